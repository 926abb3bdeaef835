"""Who stands beside the straight: coaches and helpers of training sessions, and which of them count as adults."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.core import ages
from athletes.models import Clearance, Person
from sessions.models import SessionCoach, TrainingSession
from teamtrack.common.composed import ComposedAmong, Given

_DAY = Given("day", Clearance._meta.get_field("seen_on"))


def _on_lists(sessions: list[Given]) -> QuerySet[SessionCoach]:
    checks = Clearance.objects.filter(
        coach=OuterRef("coach"), kind=NEEDED_CLEARANCE, seen_on__lte=_DAY, expires_on__gte=_DAY
    )
    rows = SessionCoach.objects.filter(training_session__pk__in=sessions, taken_off_at=None).select_related("coach")
    rows = rows.annotate(is_checked=Exists(checks))
    return rows.order_by("part", "coach__given_name", "coach__family_name", "coach_id")


_ON_LISTS = ComposedAmong(_on_lists, TrainingSession._meta.pk)


@dataclass(frozen=True)
class Staff:
    """A coach or helper of a training session; `counts` for the club's rule of adults: 18 or over, check in date."""

    person: Person
    is_helper: bool
    counts: bool


def staff_of(*, session_ids: Collection[UUID], day: date) -> dict[UUID, tuple[Staff, ...]]:
    """By training session of `day`: who is on its list now, coaches first; one query."""
    found: dict[UUID, tuple[Staff, ...]] = defaultdict(tuple)
    for row in _ON_LISTS.rows(session_ids, day=day):
        born = row.coach.birth_date
        is_adult = born is not None and not ages.is_minor(ages.age_on(born, day))
        is_helper = row.part == SessionCoach.Part.HELPER
        is_checked = bool(row.is_checked)  # type: ignore[attr-defined]
        found[row.training_session_id] += (Staff(row.coach, is_helper, is_adult and is_checked),)
    return found


def adults_among(staff: Collection[Staff]) -> int:
    """How many count for the club's rule of adults."""
    return sum(one.counts for one in staff)
