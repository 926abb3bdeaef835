"""Restores a backup: rows, then the ledger again, in one transaction, so that nobody sees a row that had gone."""

import os
from pathlib import Path
from uuid import UUID

from django.contrib.sessions.models import Session
from django.db import connection, transaction

from athletes.log_guard import drop_guard, set_guard
from athletes.models import Club, ConsentForm, LedgerLine, SignInSheet
from athletes.services.erase import repeat_ledger
from athletes.services.ledger import ledger_file, lines_in_file, row_of, write_missing
from athletes.services.signed_heads import heads_file
from athletes.services.stops import end_every_yes
from teamtrack.common.backup import BadBackup, check_set, is_empty, load_rows, newest_set, tables
from teamtrack.common.clock import utc_now


def restore(folder: Path, *, replace: bool = False, without_ledger: bool = False) -> tuple[int, int]:
    """Put the newest set of `folder` into the database; answers how many rows, and lines of the ledger repeated.

    Raises BadBackup where the set is damaged, the database not empty (unless `replace`), or the ledger's file missing
    or older than the backup (unless `without_ledger`: then every yes ends and is asked anew; the rest is by hand).
    Every sign-in ends, and every printed code, for it may have been used since; whose password changed since the backup
    is let in by no password and needs a new invitation.
    """
    place = newest_set(folder)
    check_set(place)
    if not replace and not is_empty():
        raise BadBackup("This database is not empty. Say --replace to put the backup in the place of what is there.")
    if not without_ledger and not ledger_file().exists():
        raise BadBackup(
            f"The ledger of what was erased is not at {ledger_file()}. Put it there, or say --without-ledger: then "
            "every permission that somebody gave ends and is asked anew, and what was closed since the backup (roles, "
            "guardians' authority, limits, withheld views, passwords, birth dates, the club's periods and ages) has "
            "to be closed again by hand."
        )
    with transaction.atomic():
        if replace:
            write_missing()
            _empty()
        rows = load_rows(place)
        since_backup = _take_up_ledger(without_ledger=without_ledger)
        lines = repeat_ledger(since_backup=since_backup)
        if without_ledger:
            end_every_yes()
        Session.objects.all().delete()
        for printed in (ConsentForm, SignInSheet):
            printed.objects.filter(used_at=None).update(used_at=utc_now())
    _set_aside(heads_file())
    write_missing()
    return rows, lines


def _take_up_ledger(*, without_ledger: bool) -> set[UUID]:
    """The lines that came after the backup, now rows; a file that lacks lines of the backup is not its ledger."""
    found = {UUID(line["id"]): line for line in lines_in_file(ledger_file())}
    known = set(LedgerLine.objects.values_list("pk", flat=True))
    if not without_ledger and (missing := known - found.keys()):
        raise BadBackup(f"The ledger's file lacks {len(missing)} lines that the backup knows: it is older or another.")
    clubs = set(Club.objects.values_list("pk", flat=True))
    new = [row_of(line) for pk, line in found.items() if pk not in known and UUID(line["club"]) in clubs]
    LedgerLine.objects.bulk_create(new)
    return {row.pk for row in new}


def _empty() -> None:
    """Take every row away: the access log's guard is lifted for that moment, by the owner."""
    drop_guard(connection)
    with connection.constraint_checks_disabled(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            names = ", ".join(connection.ops.quote_name(model._meta.db_table) for model in tables())
            cursor.execute(f"TRUNCATE {names} CASCADE")
        else:
            for model in tables():
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(model._meta.db_table)}")  # noqa: S608
    set_guard(connection)


def _set_aside(path: Path) -> None:
    """Heads that were signed after the backup vouch for entries that are gone: they are kept beside."""
    if path.exists():
        os.replace(path, path.with_name(f"{path.stem}.before-{utc_now():%Y%m%dT%H%M%SZ}{path.suffix}"))
