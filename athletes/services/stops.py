"""Answers in the ledger: who said no, who narrowed a yes, which questions were worded anew; and all of it said again.

After a restore an answer that came later than the backup is unknown. A no is said again as it was; a yes is never said
again, but where it named fewer people than the yes before it, that older yes is narrowed to them.
"""

from collections.abc import Collection, Iterable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.db.models.signals import post_save

from athletes.models import (
    Club,
    Guardianship,
    LedgerLine,
    PermissionEvent,
    PermissionRecipient,
    Person,
    RulesConfirmed,
    Wording,
)
from athletes.models.noted import rows_changed
from athletes.models.permissions import Purpose
from athletes.services.closings import is_repeating
from athletes.services.ledger import STOPPED, Why, note_removed
from teamtrack.common.clock import utc_now
from teamtrack.common.row_security import rows_open

NARROWED, WORDED, RULES = "narrowed", "worded", "rules"
OPTIONAL = (Purpose.HEALTH, Purpose.SHARE, Purpose.FEED)
Answer = PermissionEvent.Answer
_KEY = ("athlete_id", "giver_id", "capacity", "purpose", "about_guardian_id")
"""What makes two answers answers to the same question by the same voice."""


def register_all() -> None:
    """Called once, when the app is ready."""
    post_save.connect(_note_stop, sender=PermissionEvent, dispatch_uid="note_stop")
    post_save.connect(_note_wording, sender=Wording, dispatch_uid="note_wording")
    post_save.connect(_note_rules, sender=RulesConfirmed, dispatch_uid="note_rules")
    rows_changed.connect(_note_narrowed, sender=PermissionRecipient, dispatch_uid="note_narrowed")


def say_again(line: LedgerLine) -> None:
    """Repeat one line about answers, of a time after the backup; safe to run twice. Others are left alone."""
    match line.what:
        case "stop":
            _stop_again(line)
        case "narrowed":
            _narrow_again(line)
        case "worded":
            _word_again(line)
        case "rules" if line.ids[1] == RulesConfirmed.Book.UNITED_STATES:
            Club.objects.filter(pk=line.club_id).update(us_rule=True)


def end_every_yes() -> int:
    """Where there is no ledger: end each yes, so that all are asked anew. Answers how many."""
    ended = 0
    for club in Club.objects.order_by("id"):
        with rows_open(club_id=club.pk):
            ended += _end_each(PermissionEvent.objects.filter(club=club), at=utc_now())
    return ended


def end_yeses_of(*, club_id: UUID, athletes: Collection[UUID]) -> int:
    """Whoever comes back is asked anew: end each yes to an optional purpose from before. Answers how many."""
    with rows_open(club_id=club_id):
        asked = PermissionEvent.objects.filter(athlete__in=athletes, purpose__in=OPTIONAL, about_guardian=None)
        return _end_each(asked, at=utc_now())


# --- noted ------------------------------------------------------------------------------------------------------------
def _note_stop(instance: PermissionEvent, created: bool, raw: bool = False, **_: object) -> None:
    """Note who said no or stopped, to the club or about a guardian, whichever service wrote it."""
    if raw or not created or instance.answer == Answer.YES or is_repeating():
        return
    _write(STOPPED, instance, [str(instance.answer), instance.wording_id, instance.method, instance.evidence])


def _note_narrowed(pks: Iterable[Any], **_: object) -> None:
    """Note a yes that names fewer people than the same voice's yes before it."""
    if is_repeating():
        return
    events = PermissionEvent.objects.filter(recipients__in=list(pks), answer=Answer.YES).distinct()
    for event in events:
        before = _same(event).filter(at__lt=event.at).exclude(pk=event.pk).order_by("at", "id").last()
        named = _named(event)
        if before is not None and before.answer == Answer.YES and _named(before) - named:
            _write(NARROWED, event, sorted(named))


def _note_wording(instance: Wording, created: bool, raw: bool = False, **_: object) -> None:
    if created and not raw and instance.version > 1 and instance.change == Wording.Change.MATERIAL:
        _write_of_club(instance.club_id, WORDED, [instance.pk, instance.purpose, instance.version])


def _note_rules(instance: RulesConfirmed, created: bool, raw: bool = False, **_: object) -> None:
    if created and not raw:
        _write_of_club(instance.club_id, RULES, [instance.pk, instance.book])


def _write(what: str, event: PermissionEvent, more: list[object]) -> None:
    key = [getattr(event, name) or "" for name in _KEY]
    with transaction.atomic():
        note_removed(
            club_id=event.club_id, what=what, why=Why.SAID,
            by_person={event.athlete_id: [*key, event.pk, event.at.isoformat(), *more]},
        )  # fmt: skip


def _write_of_club(club_id: UUID, what: str, ids: list[object]) -> None:
    with transaction.atomic():
        note_removed(club_id=club_id, what=what, why=Why.SAID, by_person={None: ids})


# --- said again -------------------------------------------------------------------------------------------------------
def _key_of(line: LedgerLine) -> dict[str, str | None]:
    """The voice and the question of a line; lines of earlier versions say nothing about a guardian."""
    return {name: value or None for name, value in zip(_KEY, [*line.ids[:5], ""], strict=False)}


def _stop_again(line: LedgerLine) -> None:
    key = _key_of(line)
    same = PermissionEvent.objects.filter(club=line.club_id, **key)
    if len(line.ids) == 4:
        latest = same.filter(at__lte=line.at).order_by("at", "id").last()
        _end(latest, at=utc_now())
        return
    event_id, said_at, answer, wording_id, method, evidence = line.ids[5:]
    at = datetime.fromisoformat(said_at)
    athlete = Person.objects.filter(pk=key["athlete_id"], club=line.club_id).first()
    if athlete is None or PermissionEvent.objects.filter(pk=event_id).exists():
        return
    latest = same.filter(at__lte=at).order_by("at", "id").last()
    if latest is not None and latest.answer != Answer.YES:
        return
    if not _is_voice_here(key):
        if not key["about_guardian_id"]:
            asked = PermissionEvent.objects.filter(athlete=athlete, purpose=key["purpose"], about_guardian=None)
            _end_each(asked, at=at)
        return
    wording = _wording(line.club_id, wording_id, key["purpose"], latest)
    if wording is not None:
        PermissionEvent(
            pk=event_id, club_id=line.club_id, answer=answer, wording=wording, at=at, method=method,
            evidence=int(evidence), entered_by_id=key["giver_id"], **key,
        ).save(force_insert=True)  # fmt: skip


def _is_voice_here(key: dict[str, str | None]) -> bool:
    """Whether whoever spoke, and the guardian whom it is about, stand where the decision looks for them: who came
    after the backup is unknown here, and so is a guardian's link."""
    people = {key["giver_id"], key["about_guardian_id"]} - {None}
    if Person.objects.filter(pk__in=people).count() != len(people):
        return False
    if key["capacity"] != PermissionEvent.Capacity.GUARDIAN:
        return True
    return Guardianship.objects.filter(guardian=key["giver_id"], athlete=key["athlete_id"]).exists()


def _wording(club_id: UUID, wording_id: str, purpose: str | None, latest: PermissionEvent | None) -> Wording | None:
    """The wording that was answered, else that of the yes which it ends, else the newest of its purpose or the notice's
    (a wording that came after the backup is not here)."""
    rows = Wording.objects.filter(club=club_id).order_by("version")
    return (
        rows.filter(pk=wording_id).first()
        or (latest.wording if latest else None)
        or rows.filter(purpose=purpose).last()
        or rows.filter(purpose="record").last()
    )


def _narrow_again(line: LedgerLine) -> None:
    event_id, said_at, *named = line.ids[5:]
    same = PermissionEvent.objects.filter(club=line.club_id, **_key_of(line))
    latest = same.filter(at__lte=datetime.fromisoformat(said_at)).order_by("at", "id").last()
    if latest is None or latest.answer != Answer.YES or latest.pk == UUID(event_id):
        return
    kept = _named(latest) & set(named)
    _again(latest, at=datetime.fromisoformat(said_at), pk=UUID(event_id))
    people = [PermissionRecipient(club_id=line.club_id, event_id=event_id, person_id=one) for one in sorted(kept)]
    PermissionRecipient._base_manager.bulk_create(people)


def _word_again(line: LedgerLine) -> None:
    """A question whose meaning changed since: the text is not here any more, so every yes to the older one ends."""
    wording_id, purpose, version = line.ids
    if not Wording.objects.filter(pk=wording_id).exists():
        rows = PermissionEvent.objects.filter(club=line.club_id, purpose=purpose, about_guardian=None)
        _end_each(rows, at=line.at, before_version=int(version))


def _end_each(events: QuerySet[PermissionEvent], *, at: datetime, before_version: int | None = None) -> int:
    """End the latest answer of every voice among these, where it is a yes; answers how many."""
    latest: dict[tuple[object, ...], PermissionEvent] = {}
    for event in events.select_related("wording").order_by("at", "id"):
        latest[tuple(getattr(event, name) for name in _KEY)] = event
    old = [one for one in latest.values() if before_version is None or one.wording.version < before_version]
    return sum(_end(one, at=at) for one in old)


def _end(event: PermissionEvent | None, *, at: datetime) -> bool:
    """Stop a yes; after it, whatever the clocks say."""
    if event is None or event.answer != Answer.YES:
        return False
    event.answer, event.until = Answer.WITHDRAWN, None
    _again(event, at=max(at, event.at + timedelta(microseconds=1)), pk=PermissionEvent._meta.pk.get_default())
    return True


def _again(event: PermissionEvent, *, at: datetime, pk: UUID) -> None:
    """A new event like this one, at another time: the old one stays as it is."""
    event._state.adding = True
    event.pk, event.at = pk, at
    event.save(force_insert=True)


def _same(event: PermissionEvent) -> QuerySet[PermissionEvent]:
    return PermissionEvent.objects.filter(**{name: getattr(event, name) for name in _KEY})


def _named(event: PermissionEvent) -> set[str]:
    return {str(one) for one in PermissionRecipient.objects.filter(event=event).values_list("person_id", flat=True)}
