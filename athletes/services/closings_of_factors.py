"""Second factors in the ledger: what was taken away, and codes that were used, open nothing after a restore; and that
one was set up, so that whose factor a restore lost is asked for another before anything opens.

What a line names is the factor's number; secrets, keys and codes stand in none.
"""

from allauth.mfa.models import Authenticator
from django.db import transaction
from django.db.models.signals import post_delete, post_save

from athletes.models import Account, LedgerLine
from athletes.services.closings import is_repeating, note_rule
from athletes.services.ledger import Why, note_removed

FACTOR, USED_CODES, SET_UP = "factor", "used_codes", "factor_set_up"


def register_all() -> None:
    """Called once, when the app is ready."""
    note_rule(FACTOR, _take_away)
    note_rule(USED_CODES, _count_as_used)
    post_delete.connect(_note_gone, sender=Authenticator, dispatch_uid="note_factor_gone")
    post_save.connect(_note_set_up, sender=Authenticator, dispatch_uid="note_factor_set_up")
    post_save.connect(_note_used, sender=Authenticator, dispatch_uid="note_codes_used")


def who_lost_factors() -> set[str]:
    """The accounts, by number, that set a second factor up, took it away never, and have none now."""
    gone = {line.ids[0] for line in LedgerLine.objects.filter(what=FACTOR)}
    set_up = {tuple(line.ids) for line in LedgerLine.objects.filter(what=SET_UP)}
    rows = Authenticator.objects.exclude(type=Authenticator.Type.RECOVERY_CODES)
    return {owner for pk, owner in set_up if pk not in gone} - {str(one) for one in rows.values_list("user", flat=True)}


def _note_set_up(instance: Authenticator, created: bool, raw: bool = False, **_: object) -> None:
    if created and not raw and instance.type != Authenticator.Type.RECOVERY_CODES:
        _write(instance, SET_UP, [instance.pk, instance.user_id])


def _note_gone(instance: Authenticator, **_: object) -> None:
    _write(instance, FACTOR, [instance.pk])


def _note_used(instance: Authenticator, created: bool, raw: bool = False, **_: object) -> None:
    if not raw and not created and instance.data.get("used_mask"):
        _write(instance, USED_CODES, [instance.pk, instance.data["used_mask"]])


def _write(factor: Authenticator, what: str, ids: list[object]) -> None:
    club_id = Account.objects.filter(pk=factor.user_id).values_list("person__club_id", flat=True).first()
    if club_id is not None and not is_repeating():
        with transaction.atomic():
            note_removed(club_id=club_id, what=what, why=Why.SAID, by_person={None: ids})


def _take_away(line: LedgerLine) -> None:
    Authenticator.objects.filter(pk=line.ids[0], user__person__club=line.club_id).delete()


def _count_as_used(line: LedgerLine) -> None:
    """What either the backup or the ledger knows as used."""
    row = Authenticator.objects.filter(pk=line.ids[0], user__person__club=line.club_id).first()
    if row is not None and "used_mask" in row.data:
        row.data["used_mask"] |= int(line.ids[1])
        row.save(update_fields=["data"])
