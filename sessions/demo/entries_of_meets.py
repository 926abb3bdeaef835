"""Writes who is entered in what at the meets of the invented club: own times, closing days, results of those past."""

from collections.abc import Sequence
from datetime import timedelta

from athletes.core.marks import Event, written
from athletes.models import Mark, Person
from sessions.demo.weeks import Filling
from sessions.models import Meet, MeetEntry, SessionAthlete, TrainingSession

EVENTS: dict[str, tuple[tuple[str, Event, int], ...]] = {
    "sprint": (("100 m", Event.M100, 12_300), ("200 m", Event.M200, 25_400)),
    "distance": (("800 m", Event.M800, 132_000), ("1500 m", Event.M1500, 274_000)),
    "youth": (("80 m", Event.M80, 11_600), ("600 m", Event.M600, 112_000)),
}
"""By discipline what its athletes run, with an invented quick time in milliseconds."""
SLOWER_AT_MOST = 0.18
OVER_LAND = "4 km cross-country"
ONE_IN, MOST = 3, 10
"""Every third of a meet's roster is entered by name, ten at most."""
CLOSES_DAYS_BEFORE = 6


def write_meet_entries(filling: Filling) -> None:
    """For every meet its closing day and some entries; a time that was run is a mark, and the own time of the next."""
    entries: list[MeetEntry] = []
    marks: list[Mark] = []
    meets = TrainingSession.objects.filter(club=filling.viewer.club_id, kind="meet").order_by("starts_at")
    for meet in meets.prefetch_related("groups"):
        day = meet.starts_at.date()
        Meet.objects.create(
            club_id=meet.club_id, training_session=meet, entries_close_on=day - timedelta(days=CLOSES_DAYS_BEFORE)
        )
        for person in _entered(meet):
            entry, mark = _entry(filling, meet, person)
            entries.append(entry)
            marks += [mark] if mark is not None else []
    Mark.objects.bulk_create(marks)
    MeetEntry.objects.bulk_create(entries)


def _entered(meet: TrainingSession) -> Sequence[Person]:
    rows = SessionAthlete.objects.filter(training_session=meet).select_related("athlete")
    ordered = rows.order_by("athlete__family_name", "athlete__given_name")
    return [row.athlete for row in ordered[::ONE_IN]][:MOST]


def _entry(filling: Filling, meet: TrainingSession, person: Person) -> tuple[MeetEntry, Mark | None]:
    """One entry, and the mark that its result became."""
    viewer = filling.viewer
    disciplines = sorted(group.discipline for group in meet.groups.all())
    chance = filling.chance("entered", meet.title, person.full_name)
    event, code, quick_ms = chance.choice(EVENTS[disciplines[0]])
    own_ms = _drawn(filling, person, quick_ms)
    entry = MeetEntry(club_id=meet.club_id, training_session=meet, athlete=person, event=event, own_mark=_said(own_ms))
    is_past = meet.ends_at <= viewer.now
    if "cross-country" in meet.title:
        entry.event, entry.own_mark = OVER_LAND, ""
        entry.result = _said(_to_hundredths(880_000 * (1 + SLOWER_AT_MOST * chance.random()))) if is_past else ""
        return entry, None
    if not is_past:
        return entry, None
    run_ms = _to_hundredths(own_ms * (0.985 + 0.03 * chance.random()))
    entry.result = _said(run_ms)
    entry.mark = Mark(
        club_id=meet.club_id, athlete=person, event=code, time_ms=run_ms, run_on=meet.starts_at.date(),
        entered_by=viewer.person,
    )  # fmt: skip
    return entry, entry.mark


def _drawn(filling: Filling, person: Person, quick_ms: int) -> int:
    """The same athlete is about as quick in every event and at every meet."""
    return _to_hundredths(quick_ms * (1 + SLOWER_AT_MOST * filling.chance("quick", person.full_name).random()))


def _to_hundredths(time_ms: float) -> int:
    """As a clock at the finish gives it."""
    return int(time_ms) // 10 * 10


def _said(time_ms: int) -> str:
    return written(time_ms, is_hand=False)
