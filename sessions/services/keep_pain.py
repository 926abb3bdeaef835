"""Keeps what entries say about pain: sealed with the athlete's key, in a row of its own."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple
from uuid import UUID

from athletes.health_key import seal
from athletes.services.health_keys import keys_to_seal
from sessions.models import PainDetail
from teamtrack.common.row_security import rows_open


class PainSaid(NamedTuple):
    """What one entry says about an athlete's pain."""

    entry_id: UUID
    athlete_id: UUID
    said: Mapping[str, object]


def keep_pain(*, club_id: UUID, pains: Sequence[PainSaid]) -> None:
    """Write the health text of entries, in the caller's transaction."""
    if not pains:
        return
    athletes = {pain.athlete_id for pain in pains}
    keys = keys_to_seal(club_id=club_id, athlete_ids=athletes)
    rows = []
    for pain in pains:
        row = PainDetail(entry_id=pain.entry_id, club_id=club_id, athlete_id=pain.athlete_id)
        row.sealed = seal(pain.said, key_id=keys[pain.athlete_id], row=row.sealed_for)
        rows.append(row)
    with rows_open(people=athletes):
        PainDetail.objects.bulk_create(rows)
