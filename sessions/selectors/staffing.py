"""Who stands beside the straight: coaches and helpers of training sessions, and which of them count as adults."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Exists, OuterRef

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.core import ages
from athletes.models import Clearance, Person
from sessions.models import SessionCoach


@dataclass(frozen=True)
class Staff:
    """A coach or helper of a training session; `counts` for the club's rule of adults: 18 or over, check in date."""

    person: Person
    is_helper: bool
    counts: bool


def staff_of(*, session_ids: Collection[UUID], day: date) -> dict[UUID, tuple[Staff, ...]]:
    """By training session of `day`: who is on its list now, coaches first; one query."""
    checks = Clearance.objects.filter(
        coach=OuterRef("coach"), kind=NEEDED_CLEARANCE, seen_on__lte=day, expires_on__gte=day
    )
    rows = (
        SessionCoach.objects.filter(training_session__in=session_ids, taken_off_at=None)
        .select_related("coach")
        .annotate(is_checked=Exists(checks))
        .order_by("part", "coach__given_name", "coach__family_name", "coach_id")
    )
    found: dict[UUID, tuple[Staff, ...]] = defaultdict(tuple)
    for row in rows:
        born = row.coach.birth_date
        is_adult = born is not None and not ages.is_minor(ages.age_on(born, day))
        is_helper = row.part == SessionCoach.Part.HELPER
        found[row.training_session_id] += (Staff(row.coach, is_helper, is_adult and row.is_checked),)
    return found


def adults_among(staff: Collection[Staff]) -> int:
    """How many count for the club's rule of adults."""
    return sum(one.counts for one in staff)
