"""Rules of a club in the ledger: how long things are kept, and from which age a child answers by itself.

After a restore a period that was shortened since is short again, and an age that was raised since is high again. What
was lengthened or lowered is set anew by a person.
"""

from datetime import date
from typing import Any

from django.db import transaction
from django.db.models.signals import post_delete, post_save

from athletes.core.ages import USUAL_DIGITAL_AGE
from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import PERIOD_DAYS
from athletes.models import ClubPeriod, DigitalAge, LedgerLine
from athletes.models.noted import rows_changed
from athletes.services.closings import is_repeating, note_rule
from athletes.services.ledger import Why, note_removed

PERIOD, DIGITAL_AGE = "period", "digital_age"
AGAIN = "Noted before a restore: please check it against its source."
"""What stands as the source of an age whose own source was lost with the row."""


def register_all() -> None:
    """Called once, when the app is ready."""
    note_rule(PERIOD, _keep_no_longer)
    note_rule(DIGITAL_AGE, _ask_no_younger)
    post_save.connect(_note_period, sender=ClubPeriod, dispatch_uid="note_period")
    post_delete.connect(_note_usual_period, sender=ClubPeriod, dispatch_uid="note_usual_period")
    post_save.connect(_note_age, sender=DigitalAge, dispatch_uid="note_digital_age")
    rows_changed.connect(_note_ages, sender=DigitalAge, dispatch_uid="note_digital_ages")


def _write(club_id: Any, what: str, ids: list[object]) -> None:
    with transaction.atomic():
        note_removed(club_id=club_id, what=what, why=Why.SAID, by_person={None: ids})


def _note_period(instance: ClubPeriod, raw: bool = False, **_: object) -> None:
    if not raw and not is_repeating():
        _write(instance.club_id, PERIOD, [instance.kind, instance.days])


def _note_usual_period(instance: ClubPeriod, **_: object) -> None:
    if not is_repeating():
        _write(instance.club_id, PERIOD, [instance.kind, PERIOD_DAYS[Purpose(instance.kind)]])


def _note_age(instance: DigitalAge, raw: bool = False, **_: object) -> None:
    if not raw and not is_repeating():
        said = [instance.pk, instance.country, instance.valid_from, instance.age, int(instance.joint)]
        _write(instance.club_id, DIGITAL_AGE, said)


def _note_ages(pks: list[Any], fields: Any, **_: object) -> None:
    if fields is not None and {"age", "joint", "country", "valid_from"} & set(fields):
        for row in DigitalAge.objects.filter(pk__in=pks):
            _note_age(row)


def _keep_no_longer(line: LedgerLine) -> None:
    """The shorter of what the backup has and what was said last."""
    kind, days = line.ids[0], int(line.ids[1])
    usual = PERIOD_DAYS[Purpose(kind)]
    rows = ClubPeriod.objects.filter(club=line.club_id, kind=kind)
    if days >= (rows.values_list("days", flat=True).first() or usual):
        return
    if days == usual:
        rows.delete()
    elif not rows.update(days=days):
        ClubPeriod.objects.create(club_id=line.club_id, kind=kind, days=days)


def _ask_no_younger(line: LedgerLine) -> None:
    """The higher of two ages, and both together where either says so."""
    pk, country, day, age, joint = line.ids[0], line.ids[1], date.fromisoformat(line.ids[2]), *map(int, line.ids[3:])
    rows = DigitalAge.objects.filter(club=line.club_id, country=country, valid_from__lte=day).order_by("valid_from")
    now = rows.last()
    is_higher = age > (now.age if now else USUAL_DIGITAL_AGE)
    if not is_higher and not (joint and not (now and now.joint)):
        return
    if now is not None and now.valid_from == day:
        DigitalAge.objects.filter(pk=now.pk).update(age=max(age, now.age), joint=bool(joint) or now.joint)
    else:
        highest = max(age, now.age if now else USUAL_DIGITAL_AGE)
        DigitalAge.objects.create(
            pk=pk, club_id=line.club_id, country=country, valid_from=day, age=highest,
            joint=bool(joint) or bool(now and now.joint), source=AGAIN,
        )  # fmt: skip
