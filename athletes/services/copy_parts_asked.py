"""The parts of a copy about what was asked and said: answers, requests, limits, questions, history, the log."""

from collections.abc import Iterator

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from athletes.models import (
    AccessLogEntry,
    BroughtItem,
    ConsentReminder,
    DataRequest,
    Hold,
    LogQuestion,
    Objection,
    PermissionEvent,
    Person,
    PseudonymKey,
    Restriction,
    Withholding,
)
from athletes.services.copies import Item, item, register_part
from athletes.viewer import Viewer


def register_all() -> None:
    """Called once, when the app is ready."""
    register_part(_answers, _reminders, _requests, _limits, _withheld, _holds, _questions, _brought, _log)


def _answers(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """All answers for the athlete; for a guardian the athlete's and the own, never another guardian's."""
    rows = PermissionEvent.objects.filter(athlete=athlete).select_related("wording").prefetch_related("recipients")
    for row in rows.order_by("at", "id"):
        if viewer.person_id not in (athlete.pk, row.giver_id) and row.giver_id != athlete.pk:
            continue
        content = {
            "purpose": row.purpose, "answer": row.answer, "capacity": row.capacity, "method": row.method,
            "evidence": row.evidence, "by_its_giver": row.entered_by_id == row.giver_id,
            "child_view": row.child_view, "named_people": len(row.recipients.all()),
            "until": row.until.isoformat() if row.until else None,
            "about_a_guardian": row.about_guardian_id is not None, "question": row.wording.question,
            "explanation": row.wording.explanation, "wording_version": row.wording.version,
        }  # fmt: skip
        source = "you" if row.giver_id == viewer.person_id else row.capacity
        shown = f"{row.get_purpose_display()}: {row.get_answer_display()}. {row.wording.question}"
        at = row.at.isoformat()
        yield item("answer", row.pk, at, source=source, basis="consent_evidence", content=content, shown=shown)


def _requests(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    for row in DataRequest.objects.filter(athlete=athlete, asked_by__in=(athlete.pk, viewer.person_id)):
        content = {
            "kind": row.kind, "what": row.what, "words": row.words, "state": row.state, "answer": row.answer,
            "kept": row.kept, "due_on": str(row.due_on), "decision": row.code, "as": row.capacity,
            "extended_on": str(row.extended_on) if row.extended_on else None, "extended_because": row.extended_because,
            "ended_on": str(row.ended_on) if row.ended_on else None, "received_on": str(row.received_on),
            "is_yours": row.asked_by_id == viewer.person_id,
        }  # fmt: skip
        shown = f"{row.get_kind_display()}: {row.get_state_display()}. {row.words}".strip()
        at, source = row.received_on, row.capacity
        yield item("request", row.pk, at, source=source, basis="record", content=content, shown=shown)


def _brought(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """History of another club, as it came."""
    for row in BroughtItem.objects.filter(athlete=athlete):
        basis = (
            row.kind
            if row.kind in ("feedback", "log", "attendance")
            else "feedback"
            if row.kind in ("focus", "unsuited")
            else "record"
        )
        shown = f"{row.from_club}. {row.content.get('words') or ''}".strip()
        at = row.made_at
        brought = item(row.kind, row.item_id, at, source="club", basis=basis, content=row.content, shown=shown)
        yield brought | {"from_club": row.from_club, "brought_at": row.brought_at.isoformat()}


def _log(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """Who looked: by role, never by name; the page has the words."""
    mine = PseudonymKey.objects.filter(person=athlete).values_list("pseudonym", flat=True)
    for line in AccessLogEntry.objects.filter(club=viewer.club_id, subject__in=list(mine)).order_by("seq"):
        content = {"role": line.actor_role, "verb": line.verb, "kind": line.kind, "fields": line.fields}
        at = line.at.isoformat()
        yield item("who_looked", line.seq, at, source="club", basis="audit", content=content)


def _reminders(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    for row in ConsentReminder.objects.filter(giver=athlete):
        at, shown = row.at.isoformat(), _("reminder %(number)d") % {"number": row.number}
        content = {"number": row.number, "at": at}
        yield item("reminder", row.pk, at, source="club", basis="message", content=content, shown=shown)


def _limits(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What of the athlete's data is only stored, and which objections were followed."""
    for limit, model in (("stored_only", Restriction), ("objection", Objection)):
        for row in model.objects.filter(athlete=athlete):
            content = {
                "limit": limit, "purpose": row.purpose, "first_day": str(row.first_day),
                "last_day": str(row.last_day) if row.last_day else None,
            }  # fmt: skip
            words = _("only stored") if limit == "stored_only" else _("objection followed")
            shown = f"{row.get_purpose_display()}: {words}"
            yield item("limit", row.pk, row.first_day, source="club", basis="record", content=content, shown=shown)


def _withheld(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """That the welfare lead withholds a guardian's view: told to the athlete alone, and not from whom."""
    if viewer.person_id == athlete.pk:
        for row in Withholding.objects.filter(athlete=athlete):
            content = {
                "limit": "withheld", "first_day": str(row.first_day),
                "last_day": str(row.last_day) if row.last_day else None,
            }  # fmt: skip
            shown = _("a guardian does not see this")
            yield item("limit", row.pk, row.first_day, source="club", basis="record", content=content, shown=shown)


def _holds(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """That something is kept for a legal reason, since when, and when that is looked at again."""
    for row in Hold.objects.filter(athlete=athlete):
        content = {
            "set_on": str(row.set_on), "review_by": str(row.review_by),
            "lifted_on": str(row.lifted_on) if row.lifted_on else None,
        }  # fmt: skip
        shown = _("kept for a legal reason since %(day)s") % {"day": date_format(row.set_on, "j M Y")}
        yield item("hold", row.pk, row.set_on, source="club", basis="record", content=content, shown=shown)


def _questions(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What whoever takes the copy asked about the access log, and the answer; others' questions are their own."""
    mine = Q(asked_by=viewer.person_id) & (Q(athlete=athlete) | Q(asked_by=athlete))
    for row in LogQuestion.objects.filter(mine):
        content = {
            "line": row.seq, "about_you": row.athlete_id == athlete.pk, "words": row.words, "answer": row.answer,
            "answered_at": row.answered_at.isoformat() if row.answered_at else None,
        }  # fmt: skip
        at, shown = row.asked_at.isoformat(), f"{row.words} {row.answer}".strip()
        yield item("log_question", row.pk, at, source="you", basis="audit", content=content, shown=shown)
