"""Measures the pages against a plain view that reads the same rows by one query and sends them plainly.

Run it by `python -m tests.bench.bench_pages`: on SQLite, with DATABASE_URL on PostgreSQL. Both go through the same
middleware in the same process, in turn; what is compared is the time inside the server, median of the rounds.
"""

import statistics
import time
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from uuid import UUID

from django.db import connection
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext, setup_databases, teardown_databases
from django.urls import include, path
from django.utils.html import escape

import tests.bench.with_django  # noqa: F401
from athletes.models import CoachAssignment, Person, StaffRole
from sessions.core.iso_week import monday_of
from sessions.demo.club import make_demo_club
from sessions.models import Entry, Placement, SessionAthlete, SessionCoach
from teamtrack.common.clock import today_in

ROUNDS, WARM_UP = 60, 5


def plainly(rows: Iterable[object]) -> HttpResponse:
    """The rows as a plain list."""
    return HttpResponse("<ul>" + "".join(f"<li>{escape(str(row))}</li>" for row in rows) + "</ul>")


def plain_today(request: HttpRequest) -> HttpResponse:
    """Today's sessions of the signed-in coach with their rosters."""
    begins = datetime.combine(today_in(request.user.person.club.timezone), datetime.min.time(), UTC)
    rows = SessionAthlete.objects.filter(
        training_session__session_coaches__coach=request.user.person_id,
        training_session__starts_at__range=(begins, begins + timedelta(days=1)),
    )
    names = ("athlete__given_name", "athlete__family_name", "comes")
    when = ("training_session__kind", "training_session__starts_at", "training_session__venue__name")
    return plainly(rows.values_list(*names, *when))


def plain_week(request: HttpRequest, monday: str) -> HttpResponse:
    """The week's draft with everybody who stays away or leads."""
    rows = Placement.objects.filter(demand__week__club=request.user.person.club_id, demand__week__monday=monday)
    names = ("demand__group__name", "demand__kind", "demand__duration_min", "starts_at", "ends_at", "venue__name")
    people = ("coaches__given_name", "coaches__family_name", "excused__given_name", "excused__family_name")
    return plainly(rows.values_list(*names, *people))


def plain_athlete(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Everything that was entered about an athlete."""
    rows = Entry.objects.filter(athlete=athlete_id).order_by("-received_at")
    return plainly(rows.values_list("kind", "stride", "content", "by__given_name", "training_session__starts_at"))


urlpatterns = [
    path("plain/today", plain_today),
    path("plain/week/<str:monday>", plain_week),
    path("plain/athletes/<uuid:athlete_id>", plain_athlete),
    path("", include("teamtrack.urls")),
]


def main() -> None:
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        with override_settings(ROOT_URLCONF=__name__):
            report()
    finally:
        teardown_databases(databases, verbosity=0)


def report() -> None:
    """Print one table."""
    club, _passwords = make_demo_club(seed=1)
    monday = monday_of(today_in(club.timezone))
    athlete = Entry.objects.values_list("athlete").annotate(n=Count("id")).order_by("-n")[0][0]
    coach = CoachAssignment.objects.filter(group__memberships__athlete=athlete, last_day=None).first().coach
    leads = SessionCoach.objects.filter(coach__account__isnull=False, part="coach").order_by(
        "-training_session__starts_at"
    )
    today = leads.filter(training_session__starts_at__date=today_in(club.timezone))[0].coach
    head = StaffRole.objects.filter(role="head_coach")[0].person
    pages = [
        ("Today", today, "/today", "/plain/today"),
        ("Week plan", head, f"/head-coach/week/{monday:%G-W%V}", f"/plain/week/{monday}"),
        ("Athlete", coach, f"/coach/athletes/{athlete}", f"/plain/athletes/{athlete}"),
    ]
    print(f"{connection.vendor}; medians of {ROUNDS}")
    for name, person, page, plain in pages:
        measure(name, person, page, plain)


def measure(name: str, person: Person, page: str, plain: str) -> None:
    browser = Client(SERVER_NAME="localhost")
    browser.force_login(person.account)
    times: dict[str, list[float]] = {page: [], plain: []}
    for _ in range(WARM_UP):
        for address in times:
            answer = browser.get(address)
            assert answer.status_code == 200, (address, answer.status_code)
    for _ in range(ROUNDS):
        for address, seconds in times.items():
            began = time.perf_counter()
            browser.get(address)
            seconds.append(time.perf_counter() - began)
    with CaptureQueriesContext(connection) as queries:
        browser.get(page)
    page_s, plain_s = statistics.median(times[page]), statistics.median(times[plain])
    print(f"{name:10} {page_s * 1e3:7.1f} ms, {len(queries)} queries", end="")
    print(f"; plain {plain_s * 1e3:6.1f} ms; {page_s / plain_s:4.1f} x")


if __name__ == "__main__":
    main()
