"""The keys that seal health text: made at first need, locked while in use, destroyed for good."""

from collections.abc import Collection
from uuid import UUID

from django.db import transaction

from athletes.health_key import destroy_key, key_file, make_key
from athletes.models import HealthKey, LedgerLine
from teamtrack.common.clock import utc_now

DESTROYED = "health_key"
"""What a line of the ledger says about a key that was taken away."""


def keys_to_seal(*, club_id: UUID, athlete_ids: Collection[UUID]) -> dict[UUID, UUID]:
    """By athlete: the id of the key that seals, held until the commit so that nobody destroys it meanwhile.

    A key whose file is gone is replaced: what it sealed stays unreadable, what is written now is not lost.
    """
    with transaction.atomic():
        rows = HealthKey.objects.select_for_update().filter(athlete__in=athlete_ids).order_by("athlete_id")
        found = {row.athlete_id: row.pk for row in rows}
        for athlete_id, key_id in list(found.items()):
            if not key_file(key_id).exists():
                HealthKey.objects.filter(pk=key_id).delete()
                del found[athlete_id]
        for athlete_id in sorted(set(athlete_ids) - found.keys()):
            found[athlete_id] = _first_key(club_id, athlete_id)
        return found


def destroy_listed_keys() -> int:
    """Take away the files of all keys that the ledger lists as destroyed; answers how many were still there.

    A server that was killed between the commit and the file is caught up here, and so is a restored key folder.
    """
    lines = LedgerLine.objects.filter(what=DESTROYED).values_list("ids", flat=True)
    return sum(destroy_key(UUID(key_id)) for ids in lines for key_id in ids)


def _first_key(club_id: UUID, athlete_id: UUID) -> UUID:
    """A new key, or the one that somebody else made at this moment."""
    key_id = make_key()
    made = HealthKey(id=key_id, club_id=club_id, athlete_id=athlete_id, made_at=utc_now())
    HealthKey.objects.bulk_create([made], ignore_conflicts=True)
    kept = HealthKey.objects.select_for_update().get(athlete=athlete_id)
    if kept.pk != key_id:
        destroy_key(key_id)
    return kept.pk
