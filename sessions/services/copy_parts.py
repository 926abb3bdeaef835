"""The parts of a copy that this app keeps: entries, pain, points in hand, availability, rosters, notices, work."""

from collections.abc import Iterator, Mapping

from django.db.models import Model
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from athletes.models import Person
from athletes.services.copies import Item, item, register_part
from athletes.viewer import Viewer
from sessions.core.entries.kinds import KINDS
from sessions.effort_words import FEELS
from sessions.models import (
    Availability,
    CalendarAddress,
    CalendarLine,
    CoachAbsence,
    CoachEvening,
    CoachSettings,
    EmergencyAccess,
    Entry,
    EntryKind,
    Feature,
    Focus,
    MeetEntry,
    Notice,
    OtherSport,
    PaperSheet,
    RosterLeaver,
    SessionAthlete,
    SessionCoach,
    SessionNote,
    TrainingSession,
    Unsuited,
)
from sessions.selectors.entries import entry_of, said_in
from sessions.words import HOW, PLACES, PRESENCE, SHOWN_WITHIN, SIDES, other_sport_line

PARTS = {EntryKind.PAIN: "health", EntryKind.PRESENCE: "attendance", EntryKind.FELT: "log", EntryKind.DAY: "log"}
"""Where an entry's kind stands in a copy; what coaches saw and said, and the runner's own view, is form history."""

WORDS_OF: dict[str, Mapping[str, object]] = {
    "shown": SHOWN_WITHIN, "how": HOW, "place": PLACES, "side": SIDES, "presence": PRESENCE, "feel": FEELS,
}  # fmt: skip


def register_all() -> None:
    """Called once, when the app is ready."""
    register_part(
        _entries,
        _points,
        _unsuited,
        _availability,
        _other_sports,
        _rosters,
        _sheets,
        _notices,
        _emergencies,
        _work,
        _addresses,
        _calendar_lines,
        _meet_entries,
    )


def _entries(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    labels = dict(Feature.objects.filter(club=viewer.club_id).values_list("code", "label"))
    rows = Entry.objects.filter(club=viewer.club_id, athlete=athlete).select_related("pain_detail", "training_session")
    for row in rows.order_by("training_session__starts_at", "seq"):
        part = PARTS.get(EntryKind(row.kind), "feedback")
        said = {"entry": row.kind, "stride": row.stride, "withdrawn": row.withdrawn} | said_in(entry_of(row))
        content = said | {"session": row.training_session.starts_at.isoformat(), "said_at": row.at}
        source = "you" if row.by_id == viewer.person_id else "athlete" if row.by_athlete else "coach"
        at, basis = row.received_at.isoformat(), KINDS[row.kind].kept_as
        yield item(part, row.pk, at, source=source, basis=basis, content=content, shown=_shown(row, said, labels))


def _shown(row: Entry, said: Mapping[str, object], labels: Mapping[str, str]) -> str:
    """An entry as a person reads it: what it is, the point, how it showed, the words."""
    day = date_format(row.training_session.starts_at, "j M Y")
    parts = [f"{row.get_kind_display()}, {day}"]
    if row.stride is not None:
        parts.append(_("stride %(number)d") % {"number": row.stride})
    for key, words in WORDS_OF.items():
        if said.get(key):
            parts.append(str(words.get(str(said[key]), "")))
    if said.get("feature"):
        parts.append(labels.get(str(said["feature"]), ""))
    parts += [str(said[key]) for key in ("words", "rpe") if said.get(key) is not None]
    return ", ".join(part for part in parts if part)


def _points(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """Which points the athlete worked on."""
    for row in Focus.objects.filter(club=viewer.club_id, athlete=athlete).select_related("feature"):
        content = {
            "feature": row.feature.code, "label": row.feature.label, "since": str(row.since),
            "until": str(row.until) if row.until else None,
            "stop_asked_on": str(row.stop_asked_on) if row.stop_asked_on else None,
        }  # fmt: skip
        shown, source = f"{row.feature.label}, {date_format(row.since, 'j M Y')}", "coach"
        if row.set_by_id == athlete.pk:
            source = "you" if viewer.person_id == athlete.pk else "athlete"
        yield item("focus", row.pk, row.since, source=source, basis="feedback", content=content, shown=shown)


def _unsuited(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """Words and points that a coach noted as not suiting."""
    for row in Unsuited.objects.filter(club=viewer.club_id, athlete=athlete).select_related("feature"):
        content = {"feature": row.feature.code, "label": row.feature.label, "words": row.words, "since": str(row.since)}
        shown = ", ".join(part for part in (row.feature.label, row.words) if part)
        yield item("unsuited", row.pk, row.since, source="coach", basis="feedback", content=content, shown=shown)


def _availability(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    for row in Availability.objects.filter(club=viewer.club_id, athlete=athlete):
        content = {
            "state": row.state, "option": row.option, "said_as": row.said_as,
            "starts_at": row.starts_at.isoformat(), "ends_at": row.ends_at.isoformat(),
            "by_yourself": row.said_by_id == athlete.pk,
            "session": str(row.training_session_id) if row.training_session_id else None,
        }  # fmt: skip
        at = row.said_at.isoformat()
        state = f"{row.get_state_display()} {row.get_option_display()}".strip()
        shown = f"{state}, {date_format(row.starts_at, 'j M Y')}"
        source = row.said_as
        yield item("availability", row.pk, at, source=source, basis="availability", content=content, shown=shown)


def _other_sports(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """Training and matches of another sport."""
    for row in OtherSport.objects.filter(club=viewer.club_id, athlete=athlete):
        content = {
            "other_sport": row.effort, "first_day": str(row.first_day), "last_day": str(row.last_day),
            "part": row.part, "starts": str(row.starts), "ends": str(row.ends), "minutes": row.minutes,
            "said_as": row.said_as, "by_yourself": row.said_by_id == athlete.pk,
        }  # fmt: skip
        at, shown = row.said_at.isoformat(), other_sport_line(row)
        yield item("availability", row.pk, at, source=row.said_as, basis="availability", content=content, shown=shown)


def _rosters(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """The sessions whose roster the athlete was on, and those that they were taken off."""
    on = SessionAthlete.objects.filter(club=viewer.club_id, athlete=athlete).select_related("training_session")
    for row in on:
        seen = row.seen_at.isoformat() if row.seen_at else None
        yield _on_roster(row, row.training_session, {"comes": row.comes, "seen_at": seen}, row.get_comes_display())
    off = RosterLeaver.objects.filter(club=viewer.club_id, athlete=athlete).select_related("training_session")
    for gone in off:
        content = {"taken_off_at": gone.taken_off_at.isoformat()}
        yield _on_roster(gone, gone.training_session, content, _("taken off the roster"))


def _on_roster(row: Model, session: TrainingSession, said: Mapping[str, object], words: str) -> Item:
    starts_at = session.starts_at.isoformat()
    content = {"session": session.kind, "starts_at": starts_at} | said
    shown = f"{session.get_kind_display()}, {words}"
    return item("attendance", row.pk, starts_at, source="club", basis="plan", content=content, shown=shown)


def _sheets(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """The athlete's own lines on printed sheets."""
    mine = SessionAthlete.objects.filter(athlete=athlete).values("training_session")
    for row in PaperSheet.objects.filter(club=viewer.club_id, training_session__in=mine):
        lines = [{"point": one.get("point"), "strides": one.get("strides")} for one in row.rows if _is_of(one, athlete)]
        if lines:
            at, shown = row.printed_at.isoformat(), _("printed sheet %(number)d") % {"number": row.number}
            content = {"sheet": row.number, "lines": lines}
            yield item("attendance", row.pk, at, source="club", basis="attendance", content=content, shown=shown)


def _is_of(line: Mapping[str, object], athlete: Person) -> bool:
    return line.get("athlete") == str(athlete.pk)


def _notices(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    for row in Notice.objects.filter(club=viewer.club_id, to=athlete):
        content = {
            "notice": row.kind, "seen_at": row.seen_at.isoformat() if row.seen_at else None,
            "mailed_at": row.mailed_at.isoformat() if row.mailed_at else None,
            "told_by_voice_at": row.reached_at.isoformat() if row.reached_at else None,
            "in_app_only": row.in_app_only,
            "session": str(row.training_session_id) if row.training_session_id else None,
            "entry": str(row.entry_id) if row.entry_id else None,
        }  # fmt: skip
        at, shown = row.made_at.isoformat(), row.get_kind_display()
        yield item("notice", row.pk, at, source="club", basis="message", content=content, shown=shown)


def _emergencies(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """When pain notes were opened because the athlete could not speak, in which role, and why: what was typed then may
    say what hurts."""
    for row in EmergencyAccess.objects.filter(club=viewer.club_id, athlete=athlete):
        content = {
            "opened_as": row.opened_as, "reason": row.reason, "until": row.until.isoformat(),
            "ended_at": row.ended_at.isoformat() if row.ended_at else None,
        }  # fmt: skip
        at = row.opened_at.isoformat()
        shown = _("pain notes opened in an emergency: %(reason)s") % {"reason": row.reason}
        yield item("emergency", row.pk, at, source="club", basis="health", content=content, shown=shown)


def _work(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What somebody does at sessions as coach or helper: whose sessions, evenings, absences, lines written."""
    for row in SessionCoach.objects.filter(coach=athlete).select_related("training_session"):
        starts, ended = row.training_session.starts_at, row.taken_off_at
        content = {"session": starts.isoformat(), "part": row.part, "taken_off_at": ended and ended.isoformat()}
        shown = f"{row.get_part_display()}, {date_format(starts, 'j M Y')}"
        yield _of_work(row, starts.isoformat(), content, shown)
    for settings in CoachSettings.objects.filter(coach=athlete):
        shown = _("at most %(number)d sessions a day") % {"number": settings.max_sessions_per_day}
        yield _of_work(settings, "", {"max_sessions_per_day": settings.max_sessions_per_day}, shown)
    for free in CoachEvening.objects.filter(coach=athlete):
        content = {
            "weekday": free.weekday, "starts": str(free.starts), "ends": str(free.ends),
            "first_day": str(free.first_day), "last_day": str(free.last_day) if free.last_day else None,
        }  # fmt: skip
        shown = f"{free.get_weekday_display()} {free.starts:%H:%M}–{free.ends:%H:%M}"
        yield _of_work(free, str(free.first_day), content, shown)
    for away in CoachAbsence.objects.filter(coach=athlete):
        content = {"away_from": away.starts_at.isoformat(), "away_until": away.ends_at.isoformat()}
        yield _of_work(away, away.starts_at.isoformat(), content, date_format(away.starts_at, "j M Y"))
    for note in SessionNote.objects.filter(by=athlete):
        yield _of_work(note, note.at.isoformat(), {"note": note.text}, note.text)


def _of_work(row: Model, at: str, content: Mapping[str, object], shown: str) -> Item:
    return item("work", row.pk, at, source="club", basis="plan", content=content, shown=shown)


def _addresses(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """That there is a secret calendar address, and when it was fetched; never the secret."""
    for row in CalendarAddress.objects.filter(club=viewer.club_id, person=athlete):
        content = {
            "calendar_address": row.made_at.isoformat(),
            "stopped_at": row.stopped_at.isoformat() if row.stopped_at else None,
            "fetched_at": row.fetched_at.isoformat() if row.fetched_at else None,
        }  # fmt: skip
        shown = _("Calendar address of %(day)s") % {"day": date_format(row.made_at, "j M Y")}
        yield item(
            "sign_in", row.pk, row.made_at.isoformat(), source="club", basis="feed", content=content, shown=shown
        )


def _calendar_lines(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What the own calendar has told; of a child's plan, that it is one."""
    for row in CalendarLine.objects.filter(club=viewer.club_id, reader=athlete):
        content = {
            "calendar_line": str(row.uid), "sequence": row.sequence, "changed_at": row.changed_at.isoformat(),
            "cancelled_at": row.cancelled_at.isoformat() if row.cancelled_at else None, "kinds": row.kinds,
            "starts_at": row.starts_at.isoformat(), "ends_at": row.ends_at.isoformat(), "place": row.place,
        }  # fmt: skip
        at, shown = (
            row.starts_at.isoformat(),
            _("in the calendar: %(day)s") % {"day": date_format(row.starts_at, "j M Y")},
        )
        yield item("attendance", row.pk, at, source="club", basis="feed", content=content, shown=shown)


def _meet_entries(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What the athlete is entered in, and how it went."""
    for row in MeetEntry.objects.filter(club=viewer.club_id, athlete=athlete).select_related("training_session"):
        at = row.training_session.starts_at.isoformat()
        content = {
            "meet": str(row.training_session_id), "event": row.event, "own_mark": row.own_mark,
            "minutes": row.minutes, "result": row.result,
        }  # fmt: skip
        parts = (row.training_session.title, row.event, row.result or row.own_mark)
        shown = ", ".join(part for part in parts if part)
        yield item("attendance", row.pk, at, source="club", basis="record", content=content, shown=shown)
