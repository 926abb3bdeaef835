"""Begins a club (its row, its chain of the access log, ages and wordings to start from) and sets its own numbers."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from django.db import transaction

from athletes.models import Club, DigitalAge, Wording
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts, open_chain
from athletes.starter_wordings import STARTER_WORDINGS
from athletes.viewer import Viewer
from teamtrack.common.clock import today_in, utc_now

TIME_FOR_FACTORS = timedelta(weeks=4)
"""How long a new club's staff may put off the second factor."""

IN_FORCE_FROM = datetime(2018, 5, 25, tzinfo=UTC)
DIGITAL_AGES = Path(__file__).resolve().parent.parent / "digital_ages.json"


@transaction.atomic
def begin_club(*, name: str, timezone: str, country: str, emergency_number: str) -> Club:
    """Make a club with an empty roster; a person of the club confirms ages and wordings before going live."""
    club = Club.objects.create(
        name=name, timezone=timezone, country=country, emergency_number=emergency_number, created_at=utc_now(),
        second_factor_from=today_in(timezone) + TIME_FOR_FACTORS,
    )  # fmt: skip
    open_chain(club_id=club.pk)
    DigitalAge.objects.bulk_create(
        DigitalAge(club=club, valid_from=IN_FORCE_FROM.date(), **row) for row in json.loads(DIGITAL_AGES.read_text())
    )
    Wording.objects.bulk_create(
        Wording(
            club=club, purpose=purpose, version=1, child_level=child_level, in_force_from=IN_FORCE_FROM,
            question=question, explanation=explanation,
        )
        for (purpose, child_level), (question, explanation) in STARTER_WORDINGS.items()
    )  # fmt: skip
    return club


@transaction.atomic
def set_what_counts_as_hard(*, viewer: Viewer, from_rpe: int, least_reports: int, least_percent: int) -> None:
    """From which reported effort, number and share of reports a session counts as hard though planned lighter."""
    Club.objects.filter(pk=viewer.club_id).update(
        hard_from_rpe=from_rpe, hard_least_reports=least_reports, hard_least_percent=least_percent
    )
    changed = ("hard_from_rpe", "hard_least_reports", "hard_least_percent")
    log_acts(viewer=viewer, acts=[Act("set", "club", fields=changed)])


@transaction.atomic
def set_club(
    *, viewer: Viewer, emergency_number: str, health_contact: str, adults_required: int, distance_unit: str
) -> bool:
    """What every page goes by: the emergency number, whom to tell about pain in person, how many adults a session
    wants, in which unit a run is told. Answers whether something changed."""
    viewer.must_be(Role.ADMIN)
    wanted = {
        "emergency_number": emergency_number.strip(), "health_contact": health_contact.strip(),
        "adults_required": adults_required, "distance_unit": distance_unit,
    }  # fmt: skip
    now = Club.objects.select_for_update().filter(pk=viewer.club_id).values(*wanted).get()
    changed = tuple(sorted(name for name, value in wanted.items() if now[name] != value))
    if changed:
        Club.objects.filter(pk=viewer.club_id).update(**wanted)
        log_acts(viewer=viewer, acts=[Act("set", "club", fields=changed)])
    return bool(changed)


@transaction.atomic
def set_second_factor_from(*, viewer: Viewer, day: date) -> None:
    """From which day on staff cannot put the second factor off any more."""
    viewer.must_be(Role.ADMIN)
    Club.objects.filter(pk=viewer.club_id).update(second_factor_from=day)
    log_acts(viewer=viewer, acts=[Act("set", "club", fields=("second_factor_from",))])
