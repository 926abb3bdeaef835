"""The copy of everything that is kept about an athlete, and what of such a copy another club may read in.

Each app registers its parts. Other people stand in a copy by their role alone. Reading one in gives history, never a
permission: answers, health, notices and the access log of another club are left out.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.access import Answers, get_athlete_to_copy
from athletes.core.permissions import Answer
from athletes.core.permissions.codes import Code
from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import PERIOD_DAYS
from athletes.models import BroughtItem, Person
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Refused
from teamtrack.common.row_security import rows_open

FORMAT = "athlete-copy-1"
READ_IN = ("membership", "group", "feedback", "focus", "unsuited", "log", "attendance")
"""The kinds of another club's copy that are history here; never answers, authority, limits, holds, health, contacts."""

AS_VIEWED = (Purpose.HEALTH, Purpose.AUDIT, Purpose.FEEDBACK)
"""What an athlete may keep from a guardian: it stands in that guardian's copy only as the guardian's view has it."""

MOST_ITEMS = 20_000
Item = dict[str, Any]
Part = Callable[[Viewer, Person], Iterable[Item]]
_parts: list[Part] = []


def register_part(*parts: Part) -> None:
    """Make parts of the copy known, in their order."""
    _parts.extend(part for part in parts if part not in _parts)


def item(
    kind: str, item_id: object, made_at: object, *, source: str, basis: str, content: Mapping[str, Any], shown: str = ""
) -> Item:
    """One item: `source` is you, guardian, coach or club; `basis` the purpose; with the days for which it is kept.

    `shown` says the content to a person, in the language of the request; a file holds the content alone.
    """
    return {
        "kind": kind, "id": str(item_id), "made_at": str(made_at), "source": source, "basis": basis,
        "kept_days": PERIOD_DAYS.get(Purpose(basis)), "content": dict(content), "shown": shown,
    }  # fmt: skip


@transaction.atomic
def copy_for(*, viewer: Viewer, athlete_id: UUID) -> dict[str, Any]:
    """The copy for the athlete, or for a guardian whom the decision allows it; logged before it is sent.

    A guardian of a child under the digital age gets all of it, health and the access log among it. From that age on the
    athlete's yes to a copy is none to them: they stand in it where that guardian may view them, else it names them as
    left out. Raises NotFound for a stranger's athlete, Refused with the decision's code where the answer is no.
    """
    athlete, answers = get_athlete_to_copy(viewer, athlete_id, AS_VIEWED)
    decided = _allowed(answers, athlete)
    made = copy_of(viewer=viewer, athlete=athlete, without=_kept_from(viewer, answers, athlete))
    kinds = tuple(sorted({one["kind"] for one in made["items"]}))
    log_acts(viewer=viewer, acts=[Act("read", "copy", athlete.pk, kinds, decided.code)])
    return made


def _allowed(answers: Answers, athlete: Person) -> Answer:
    decided = answers.answer_to(athlete.pk, "record", act="export")
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    return decided


def _kept_from(viewer: Viewer, answers: Answers, athlete: Person) -> frozenset[str]:
    """The purposes that a guardian's copy leaves out, by the decision about that guardian's view.

    Form history goes with the yes to a copy, unless a no to this guardian was said; the other two need their own yes.
    """
    if viewer.role != Role.GUARDIAN:
        return frozenset()
    seen = {one: answers.answer(athlete.pk, one) for one in AS_VIEWED}
    hidden = {one for one, answer in seen.items() if not answer.may}
    if seen[Purpose.FEEDBACK].code is not Code.ATHLETE_SAYS_NO:
        hidden.discard(Purpose.FEEDBACK)
    return frozenset(str(one) for one in hidden)


def for_file(copy: Mapping[str, Any]) -> dict[str, Any]:
    """The copy as it is written to a file: content, in no language."""
    items = [{key: value for key, value in one.items() if key != "shown"} for one in copy["items"]]
    return {**copy, "items": items}


def copy_of(*, viewer: Viewer, athlete: Person, without: Collection[str] = ()) -> dict[str, Any]:
    """Everything kept about an athlete, but what is kept for the purposes `without`; the caller asked the decision."""
    with rows_open(club_id=viewer.club_id, people=[athlete.pk]):
        every = [one for part in _parts for one in part(viewer, athlete)]
    items = [one for one in every if one["basis"] not in without]
    return {
        "format": FORMAT,
        "club": viewer.club.name,
        "made_at": utc_now().isoformat(timespec="seconds"),
        "athlete": {
            "given_name": athlete.given_name,
            "family_name": athlete.family_name,
            "birth_date": athlete.birth_date.isoformat() if athlete.birth_date else None,
        },
        "left_out": sorted(without),
        "items": sorted(items, key=lambda one: (one["kind"], one["made_at"], one["id"])),
    }


@transaction.atomic
def bring_copy(*, viewer: Viewer, athlete_id: UUID, copy: object) -> int:
    """Read in the history of another club's copy; answers how many items were new. No permission comes with it.

    Raises Refused where the file is no copy or is too large; then nothing is kept. Read twice it adds nothing.
    """
    athlete, answers = get_athlete_to_copy(viewer, athlete_id)
    _allowed(answers, athlete)
    rows = _rows(viewer, athlete, copy)
    before = BroughtItem.objects.filter(athlete=athlete).count()
    BroughtItem.objects.bulk_create(rows, ignore_conflicts=True, batch_size=500)
    log_acts(viewer=viewer, acts=[Act("record", "brought", athlete.pk, READ_IN)])
    return BroughtItem.objects.filter(athlete=athlete).count() - before


def _rows(viewer: Viewer, athlete: Person, copy: object) -> list[BroughtItem]:
    if not isinstance(copy, dict) or copy.get("format") != FORMAT or not isinstance(copy.get("items"), list):
        raise Refused("NOT_A_COPY", _("This file is not a copy of an athlete's data. Nothing was kept."))
    if len(copy["items"]) > MOST_ITEMS:
        raise Refused("TOO_LARGE", _("This file holds too many items. Nothing was kept."))
    club, at = str(copy.get("club", ""))[:120], viewer.now
    rows = []
    for number, one in enumerate(copy["items"], 1):
        if not _is_item(one):
            raise Refused(
                "NOT_A_COPY", _("Item %(number)d of this file cannot be read. Nothing was kept.") % {"number": number}
            )
        if one["kind"] in READ_IN:
            rows.append(
                BroughtItem(
                    club_id=viewer.club_id, athlete=athlete, kind=one["kind"], item_id=one["id"],
                    made_at=one["made_at"], content=one["content"], from_club=club, brought_at=at,
                )
            )  # fmt: skip
    return rows


def _is_item(one: object) -> bool:
    """A dictionary with the three texts and the content that a row takes, none too long and none with a null sign.

    Only the day on which it was made may be nothing.
    """
    if not isinstance(one, dict) or not isinstance(one.get("content"), dict):
        return False
    for key, longest in (("kind", 20), ("id", 64), ("made_at", 40)):
        value = one.get(key)
        if not isinstance(value, str) or not (value or key == "made_at") or len(value) > longest or "\x00" in value:
            return False
    return "\\u0000" not in repr(one["content"]) and "\\x00" not in repr(one["content"])
