"""A printed sheet as its grid shows it: the lines that this reader may see, and what stands in each cell."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from athletes.access import Answers
from athletes.models import Person
from sessions.access import Part
from sessions.core.entries.counting import Link
from sessions.core.entries.kinds import PURPOSES
from sessions.core.entries.shape import Entry as CoreEntry
from sessions.core.paper import Sheet, standing
from sessions.models import Entry, EntryKind, Feature, PaperSheet
from sessions.selectors.entries import entries_allowed, entry_of, links_of
from sessions.selectors.session_cards import roster_rows
from teamtrack.common.errors import NotFound

ON_PAPER = (EntryKind.PRESENCE, EntryKind.OBSERVATION, EntryKind.RUN, EntryKind.CUE, EntryKind.STOP)
"""Kinds that a grid holds: a health note never stands on the sheet of a whole session."""


@dataclass(frozen=True)
class Line:
    """One line of the grid; `point` is None where none is in hand or form is not recorded."""

    number: int
    athlete: Person
    point: Feature | None
    strides: int
    may_judge: bool

    def cell(self, name: object) -> str:
        """What a cell of this line is called on its sheet."""
        return f"{self.number} {name}"

    @property
    def cells(self) -> tuple[str, ...]:
        strides = [self.cell(number) for number in range(1, self.strides + 1)]
        return (self.cell("here"), *strides, self.cell("words"), self.cell("stop"))


@dataclass(frozen=True)
class Grid:
    """A sheet with its lines; `stands` holds by cell what counts there, several where they stand side by side."""

    row: PaperSheet
    sheet: Sheet
    lines: tuple[Line, ...]
    features: Mapping[str, Feature]
    links: Sequence[Link]
    stands: Mapping[str, tuple[CoreEntry, ...]]


def get_sheet(*, part: Part, number: int) -> PaperSheet:
    """One sheet of the training session; another's is not found."""
    rows = PaperSheet.objects.filter(training_session=part.training_session, number=number)
    found = rows.select_related("printed_by").first()
    if found is None:
        raise NotFound()
    return found


def sheet_of(row: PaperSheet) -> Sheet:
    """The sheet as the core knows it."""
    return Sheet(str(row.training_session_id), row.number, row.printed_at)


def paper_grid(*, part: Part, row: PaperSheet) -> Grid:
    """The grid, in a fixed number of queries; athletes whose record may not be used are not on it."""
    people = {str(one.athlete_id): one.athlete for one in roster_rows([part.training_session.pk])}
    answers = part.answers_to_reader(list(people.values()), PURPOSES)
    features = {one.code: one for one in Feature.objects.filter(club=part.viewer.club_id)}
    lines = tuple(_lines(row, people, answers, features))
    allowed = {purpose: answers.allowed_ids(purpose) for purpose in PURPOSES}
    entries = entries_allowed(part.training_session, allowed).filter(kind__in=ON_PAPER)
    links, _highest = links_of(entries)
    found = standing(sheet_of(row), [cell for line in lines for cell in line.cells], links)
    counted = [one for ids in found.values() for one in ids]
    kept = {str(one.pk): entry_of(one) for one in Entry.objects.filter(pk__in=counted)}
    stands = {cell: tuple(kept[one] for one in ids) for cell, ids in found.items()}
    return Grid(row, sheet_of(row), lines, features, links, stands)


def _lines(
    row: PaperSheet, people: Mapping[str, Person], answers: Answers, features: Mapping[str, Feature]
) -> list[Line]:
    found = []
    for number, one in enumerate(row.rows):
        person = people.get(one["athlete"])
        if person is None or not answers.may(UUID(one["athlete"]), "record"):
            continue
        may_judge = answers.may(person.pk, "feedback")
        point = features.get(one["point"]) if may_judge and one["point"] else None
        found.append(Line(number, person, point, one["strides"], may_judge))
    return found
