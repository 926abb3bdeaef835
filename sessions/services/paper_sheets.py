"""Prints a session's grid under a number, and keeps what is typed in from it."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from athletes.models import Club
from athletes.services.access_log import Act, log_acts
from sessions.access import Part
from sessions.core.entries.judging import Verdict
from sessions.core.entries.shape import Refusal
from sessions.core.paper import Cell, entries_for, typed_entry, withdrawal
from sessions.models import Entry, PaperSheet
from sessions.selectors.entries import entry_of
from sessions.selectors.paper_sheet import Grid
from sessions.selectors.trackside import trackside
from sessions.services.record_entries import record_entries
from teamtrack.common.clock import utc_now

FIRST_NUMBER = 101
A_MOMENT = timedelta(minutes=1)


@dataclass(frozen=True)
class Typed:
    """What became of what was typed: ids that are new, and for the refused cells the code."""

    new: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]


@transaction.atomic
def print_sheet(*, part: Part) -> PaperSheet:
    """Put a new sheet on record: a line for each athlete and point in hand, in the roster's order. The very same, asked
    for again within a minute, is the one of a moment ago: the form was sent twice."""
    Club.objects.select_for_update().get(pk=part.viewer.club_id)
    highest = PaperSheet.objects.filter(club=part.viewer.club_id).aggregate(highest=Max("number"))["highest"]
    now = utc_now()
    people = trackside(part=part).athletes
    rows = [
        {"athlete": str(one.person), "point": point, "strides": one.strides}
        for one in people
        for point in (one.points or [None])
    ]
    last = PaperSheet.objects.filter(training_session=part.training_session).order_by("-number").first()
    if last and (last.rows, last.printed_by_id) == (rows, part.viewer.person_id) and now - last.printed_at < A_MOMENT:
        return last
    acts = [Act("made", "sheet", one.person, ("points",) if one.points else ()) for one in people]
    log_acts(viewer=part.viewer, acts=acts)
    return PaperSheet.objects.create(
        club_id=part.viewer.club_id,
        training_session=part.training_session,
        number=max(FIRST_NUMBER, (highest or 0) + 1),
        printed_at=now.replace(microsecond=now.microsecond // 1000 * 1000),
        printed_by_id=part.viewer.person_id,
        rows=rows,
    )


def type_sheet(*, part: Part, grid: Grid, cells: Sequence[Cell], out: Collection[str] = ()) -> Typed:
    """Keep what was typed and take back the entries `out`; what is there already changes nothing."""
    links = {link.id: link for link in grid.links}
    posted = entries_for(grid.sheet, cells, grid.links)
    posted += [withdrawal(grid.sheet, links[one]) for one in out if one in links]
    answers = record_entries(part=part, posted=posted)
    names = [one.cell for one in cells] + [""] * (len(posted) - len(cells))
    pairs = list(zip(names, answers, strict=True))
    return Typed(
        new=tuple(one.id for _name, one in pairs if not isinstance(one, Refusal) and one.verdict is Verdict.ACCEPTED),
        refused=tuple((name, one.code) for name, one in pairs if isinstance(one, Refusal)),
    )


def take_back(*, part: Part, grid: Grid, ids: Collection[UUID]) -> Typed:
    """Undo a typing: what it added is withdrawn, what it took out stands again."""
    here = {link.id: link for link in grid.links}
    links = [here[str(one)] for one in ids if str(one) in here]
    posted = [withdrawal(grid.sheet, link) for link in links if not link.is_withdrawal]
    posted += _stand_again(part, grid, [link.id for link in links if link.is_withdrawal])
    answers = record_entries(part=part, posted=posted)
    return Typed((), tuple(("", one.code) for one in answers if isinstance(one, Refusal)))


def _stand_again(part: Part, grid: Grid, withdrawals: Collection[str]) -> list[dict[str, object]]:
    from_id = {link.id: link.replaces for link in grid.links if link.id in withdrawals}
    rows = Entry.objects.filter(training_session=part.training_session, pk__in=[one for one in from_id.values() if one])
    gone = {str(row.pk): entry_of(row) for row in rows}
    return [
        typed_entry(grid.sheet, Cell(was, one.kind, one.athlete, one.stride, said), replaces=withdrawn)
        for withdrawn, was in from_id.items()
        if was is not None and (one := gone.get(was)) is not None
        for said in [{key: value for key, value in one.own.items() if value is not None}]
    ]
