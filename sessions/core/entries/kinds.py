"""The table of kinds: the keys of an entry, who posts it and for which purpose it is kept."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from sessions.core.entries.values import Choice, Code, Device, EntryId, Flag, Instant, Measure, Rule, Text, Whole


class Role(StrEnum):
    """Who posts: somebody of the session's coaches and helpers of that day, or a runner about oneself."""

    COACH = "coach"
    HELPER_UNDER_18 = "helper_under_18"
    ATHLETE = "athlete"


_BY_COACH = frozenset({Role.COACH, Role.HELPER_UNDER_18})
_BY_ATHLETE = frozenset({Role.ATHLETE})
_STRIDE = Whole(1, 99)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of entry.

    `keys`: its own keys with their rules. `needed`: those that are never null. `one_of`: at least one of these is
    not null. `needs_feature`: where `shown` is given, `feature` is given too. `stride`: the rule for the stride, None
    where there is none. `purpose`: the purpose of the permissions contract that is asked. `kept_as`: the kind of data
    that it is for retention and erasure.
    """

    name: str
    keys: Mapping[str, Rule]
    purpose: str
    kept_as: str
    posted_by: frozenset[Role]
    needed: frozenset[str] = frozenset()
    one_of: tuple[str, ...] = ()
    stride: Whole | None = _STRIDE
    needs_feature: bool = False


SHARED_KEYS: Mapping[str, Rule] = {
    "id": EntryId(),
    "session": Code(),
    "kind": Code(),
    "athlete": Code(),
    "stride": _STRIDE,
    "at": Instant(),
    "device": Device(),
    "replaces": EntryId(),
    "withdrawn": Flag(),
}
NEVER_NULL = frozenset({"session", "athlete", "at", "device"})

_SHOWN = Choice(("held", "partly", "not_yet"))
_PLACES = ("foot", "ankle", "lower_leg", "knee", "thigh", "hip", "back", "chest", "head", "unwell", "other")

_RUN = Kind(
    name="run",
    keys={
        "time_s": Measure(0.1, 600, 3),
        "steps": Whole(1, 400),
        "zone_m": Measure(1, 400, 2),
        "started_at": Instant(),
        "crossed_at": Instant(),
    },
    purpose="record",
    kept_as="log",
    posted_by=_BY_COACH,
)
_OBSERVATION = Kind(
    name="observation",
    keys={"feature": Code(), "shown": _SHOWN, "type": Choice(("strength", "adjustment")), "note": Text(500)},
    needed=frozenset({"feature", "shown"}),
    purpose="feedback",
    kept_as="feedback",
    posted_by=_BY_COACH,
)
_CUE = Kind(
    name="cue",
    keys={
        "feature": Code(),
        "words": Text(200),
        "how": Choice(("told", "shown", "other_words")),
        "focus": Choice(("outside", "body")),
        "understood": Choice(("yes", "no", "not_asked")),
    },
    needed=frozenset({"feature", "words", "how", "understood"}),
    stride=Whole(0, 99),
    purpose="feedback",
    kept_as="feedback",
    posted_by=_BY_COACH,
)
_OWN_VIEW = Kind(
    name="own_view",
    keys={"feature": Code(), "shown": _SHOWN, "words": Text(500)},
    one_of=("shown", "words"),
    needs_feature=True,
    purpose="feedback",
    kept_as="feedback",
    posted_by=_BY_COACH,
)
_STOP = Kind(
    name="stop", keys={}, purpose="availability", kept_as="availability", posted_by=frozenset(_BY_COACH | _BY_ATHLETE)
)
_PAIN = Kind(
    name="pain",
    keys={"place": Choice(_PLACES), "side": Choice(("left", "right", "both")), "words": Text(500)},
    needed=frozenset({"place"}),
    purpose="health",
    kept_as="health",
    posted_by=frozenset({Role.COACH, Role.ATHLETE}),
)
_PRESENCE = Kind(
    name="presence",
    keys={"state": Choice(("came", "late", "away", "left", "collected"))},
    needed=frozenset({"state"}),
    purpose="record",
    kept_as="attendance",
    posted_by=_BY_COACH,
)
_FELT = Kind(
    name="felt",
    keys={
        "effort": Whole(0, 10),
        "feel": Choice(("by_itself", "strange", "not_nice")),
        "feature": Code(),
        "shown": _SHOWN,
        "words": Text(500),
    },
    one_of=("effort", "feel", "shown", "words"),
    needs_feature=True,
    purpose="record",
    kept_as="log",
    posted_by=_BY_ATHLETE,
)
_DAY = Kind(
    name="day",
    keys={"rpe": Whole(0, 10), "minutes": Whole(1, 600), "words": Text(500)},
    needed=frozenset({"rpe"}),
    stride=None,
    purpose="record",
    kept_as="log",
    posted_by=_BY_ATHLETE,
)

KINDS: Mapping[str, Kind] = {
    kind.name: kind for kind in (_RUN, _OBSERVATION, _CUE, _OWN_VIEW, _STOP, _PAIN, _PRESENCE, _FELT, _DAY)
}
PURPOSES: tuple[str, ...] = tuple(sorted({kind.purpose for kind in KINDS.values()}))
