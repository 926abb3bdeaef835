"""Draws what was recorded at past sessions of the invented club: plain entries, from a seeded source alone."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from random import Random

from sessions.demo import words

WEEKS_TO_LEARN = 10
SHARE_OF_LOOKS, SHARE_WITH_STRENGTH, SHARE_OF_WORDS = 0.5, 0.4, 0.55
SHARE_WHO_LOG, SHARE_AWAY, SHARE_LATE = 0.75, 0.06, 0.05
PAIN_EVERY = 40
"""About one in so many athletes at a technique session says that something hurts."""


@dataclass(frozen=True)
class Runner:
    """Somebody on the roster, by a key; `logs` who signs in, `may_keep_pain` where the permission is in force."""

    key: str
    age: int
    strides: int
    points: tuple[str, ...]
    logs: bool
    may_keep_pain: bool
    is_easier: bool = False


@dataclass(frozen=True)
class Gathering:
    """One past session: its kind and length, who came, who watched, and how many weeks the club had trained."""

    kind: str
    minutes: int
    weeks_trained: int
    coaches: tuple[str, ...]
    runners: tuple[Runner, ...]


@dataclass(frozen=True)
class EntryPlan:
    """One entry: so many seconds into the session, about whom, by whom; `own` are the kind's own keys."""

    kind: str
    about: str
    by: str
    second: int
    stride: int | None = None
    by_athlete: bool = False
    own: Mapping[str, object] = field(default_factory=dict)


def draw_entries(rng: Random, gathering: Gathering) -> list[EntryPlan]:
    """The entries of one session in the order in which they were made."""
    entries = [entry for runner in gathering.runners for entry in _of_runner(rng, gathering, runner)]
    return sorted(entries, key=lambda entry: entry.second)


def _of_runner(rng: Random, gathering: Gathering, runner: Runner) -> Iterator[EntryPlan]:
    chance = rng.random()
    coach = rng.choice(gathering.coaches)
    state = "away" if chance < SHARE_AWAY else "late" if chance < SHARE_AWAY + SHARE_LATE else "came"
    yield EntryPlan("presence", runner.key, coach, rng.randrange(-300, 300), own={"state": state})
    if state == "away":
        return
    if gathering.kind == "technique" and not runner.is_easier:
        yield from _Strides(rng, gathering, runner, coach).entries()
    if runner.logs and rng.random() < SHARE_WHO_LOG:
        yield _day(rng, gathering, runner)
    if runner.age < 18:
        leaves = gathering.minutes * 60 + rng.randrange(0, 600)
        how = "collected" if runner.age < 14 else "left"
        yield EntryPlan("presence", runner.key, coach, leaves, own={"state": how})


def _day(rng: Random, gathering: Gathering, runner: Runner) -> EntryPlan:
    """How hard the day was; under 13 one of the four words."""
    usual = {"hard": 7, "moderate": 5, "technique": 4, "easy": 3, "meet": 7}[gathering.kind]
    rpe = min(10, max(0, usual + rng.choice((-1, 0, 0, 1, 2))))
    if runner.age < 13:
        rpe = rng.choice((2, 3, 3, 5))
    own: dict[str, object] = {"rpe": rpe, "minutes": gathering.minutes}
    if rng.random() < 0.2:
        own["words"] = rng.choice(words.DAY_WORDS)
    second = gathering.minutes * 60 + rng.randrange(600, 9000)
    return EntryPlan("day", runner.key, runner.key, second, by_athlete=True, own=own)


@dataclass
class _Strides:
    """The strides of one runner at one technique session, under the eyes of one coach or two."""

    rng: Random
    gathering: Gathering
    runner: Runner
    coach: str
    told: dict[str, int] = field(default_factory=dict)

    def entries(self) -> Iterator[EntryPlan]:
        hurts_at = self.rng.randrange(3, 7) if self.rng.random() < 1 / PAIN_EVERY else None
        for stride in range(1, self.runner.strides + 1):
            second = 900 + stride * 260 + self.rng.randrange(0, 60)
            if stride == hurts_at:
                yield from self._stop(stride, second)
                return
            yield from self._stride(stride, second)

    def _stride(self, stride: int, second: int) -> Iterator[EntryPlan]:
        """The first stride is always watched, before any word of the day."""
        point = self.runner.points[(stride - 1) // 3 % len(self.runner.points)]
        if stride == 1 or self.rng.random() < SHARE_OF_LOOKS:
            shown = self._shown(point)
            if self.rng.random() < 0.15:
                yield self._own_view(point, shown, stride, second)
            yield self._look(point, shown, stride, second + 5)
            if shown != "held" and self.rng.random() < SHARE_OF_WORDS:
                yield self._cue(point, stride, second + 20)
            if len(self.gathering.coaches) > 1 and self.rng.random() < 0.08:
                yield self._second_look(point, stride, second + 12)
        if self.runner.logs and self.rng.random() < 0.35:
            yield self._felt(point, stride, second + 60)

    def _shown(self, point: str) -> str:
        """What a coach sees gets better over the weeks, and after words."""
        learnt = 0.25 + 0.35 * min(self.gathering.weeks_trained / WEEKS_TO_LEARN, 1) + 0.08 * self.told.get(point, 0)
        chance = self.rng.random()
        return "held" if chance < learnt else "partly" if chance < learnt + 0.3 else "not_yet"

    def _look(self, point: str, shown: str, stride: int, second: int) -> EntryPlan:
        kind = "strength" if shown == "held" else "adjustment"
        own: dict[str, object] = {"feature": point, "shown": shown}
        if self.rng.random() < SHARE_WITH_STRENGTH:
            own["type"] = kind
            notes = words.STRENGTH_NOTES if kind == "strength" else words.ADJUSTMENT_NOTES
            if self.rng.random() < 0.3:
                own["note"] = self.rng.choice(notes)
        return EntryPlan("observation", self.runner.key, self.coach, second, stride, own=own)

    def _second_look(self, point: str, stride: int, second: int) -> EntryPlan:
        other = next(coach for coach in self.gathering.coaches if coach != self.coach)
        own = {"feature": point, "shown": self._shown(point)}
        return EntryPlan("observation", self.runner.key, other, second, stride, own=own)

    def _cue(self, point: str, stride: int, second: int) -> EntryPlan:
        spec = words.IN_USE[point]
        focus = "outside" if self.rng.random() < 0.65 else "body"
        said = self.rng.choice(spec.outside if focus == "outside" else spec.body)
        self.told[point] = self.told.get(point, 0) + 1
        own = {
            "feature": point,
            "words": said,
            "how": self.rng.choice(("told", "told", "told", "shown", "other_words")),
            "focus": focus,
            "understood": self.rng.choice(("yes", "yes", "yes", "not_asked", "no")),
        }
        return EntryPlan("cue", self.runner.key, self.coach, second, stride, own=own)

    def _own_view(self, point: str, shown: str, stride: int, second: int) -> EntryPlan:
        own: dict[str, object] = {"words": self.rng.choice(words.IN_USE[point].own_words)}
        if self.rng.random() < 0.5:
            own |= {"feature": point, "shown": shown}
        return EntryPlan("own_view", self.runner.key, self.coach, second, stride, own=own)

    def _felt(self, point: str, stride: int, second: int) -> EntryPlan:
        effort = self.rng.choice((2, 3, 5)) if self.runner.age < 13 else self.rng.randrange(3, 8)
        own: dict[str, object] = {"effort": effort, "feel": self.rng.choice(("by_itself", "by_itself", "strange"))}
        if self.rng.random() < 0.5:
            own |= {"feature": point, "shown": self._shown(point)}
        if self.rng.random() < 0.2:
            own["words"] = self.rng.choice(words.FELT_WORDS)
        return EntryPlan("felt", self.runner.key, self.runner.key, second, stride, by_athlete=True, own=own)

    def _stop(self, stride: int, second: int) -> Iterator[EntryPlan]:
        """Pain ends the strides; where it hurts is kept only where that is allowed."""
        by_athlete = self.runner.logs and self.rng.random() < 0.3
        by = self.runner.key if by_athlete else self.coach
        yield EntryPlan("stop", self.runner.key, by, second, stride, by_athlete)
        if self.runner.may_keep_pain:
            place, side, said = self.rng.choice(words.PAIN)
            own = {"place": place, "side": side} | ({"words": said} if said else {})
            yield EntryPlan("pain", self.runner.key, by, second + 1, stride, by_athlete, own)


def points_of(rng: Random, features: Sequence[str]) -> tuple[str, ...]:
    """One or two features that an athlete works on."""
    return tuple(rng.sample(list(features), rng.choice((1, 2, 2))))
