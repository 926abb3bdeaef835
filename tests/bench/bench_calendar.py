"""Measures the calendar address of a season against a plain view that reads the same rows by one query.

Run it by `python -m tests.bench.bench_calendar`: on SQLite, with DATABASE_URL on PostgreSQL. In turn, in one process:
the whole text, "not changed", and the plain answer; what is compared is the time inside the server, median of rounds.
"""

import statistics
import time
from collections.abc import Callable
from datetime import timedelta

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext, setup_databases, teardown_databases
from django.urls import include, path

import tests.bench.with_django  # noqa: F401
from athletes.models import Person
from athletes.viewer import viewer_for
from sessions.models import CalendarAddress, SessionAthlete
from sessions.services.calendar_addresses import make_calendar_address
from teamtrack.common.clock import today_in
from tests.bench.bench_pages import plainly
from tests.people import answer, make_athlete, make_club, make_group, make_session, make_venue

ROUNDS, WARM_UP = 60, 5
WEEKS, A_WEEK = 38, 4


def plain(request: HttpRequest) -> HttpResponse:
    """Every session of the signed-in athlete."""
    rows = SessionAthlete.objects.filter(athlete=request.user.person_id)
    names = ("kind", "also", "starts_at", "ends_at", "venue__name", "place")
    return plainly(rows.values_list("athlete__given_name", "comes", *(f"training_session__{name}" for name in names)))


urlpatterns = [path("plain/calendar", plain), path("", include("teamtrack.urls"))]


def main() -> None:
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        with override_settings(ROOT_URLCONF=__name__):
            report()
    finally:
        teardown_databases(databases, verbosity=0)


def season() -> Person:
    """An adult athlete with a season of sessions."""
    club = make_club()
    group, venue = make_group(club), make_venue(club)
    athlete = make_athlete(club, "Tam", group, age=21)
    answer(athlete, athlete, "feed", names=(athlete,))
    for number in range(WEEKS * A_WEEK):
        day = today_in(club.timezone) + timedelta(days=1 + number * 7 // A_WEEK)
        make_session(group, day=day, athletes=(athlete,), venue=venue)
    return athlete


def report() -> None:
    athlete = season()
    place = f"/calendar/{make_calendar_address(viewer=viewer_for(athlete, 'athlete'))}.ics"
    browser, program = Client(SERVER_NAME="localhost"), Client(SERVER_NAME="localhost")
    browser.force_login(athlete.account)
    state = program.get(place)["ETag"]

    def whole() -> HttpResponse:
        return program.get(place)

    def unchanged() -> HttpResponse:
        return program.get(place, headers={"If-None-Match": state})

    def plainly_read() -> HttpResponse:
        return browser.get("/plain/calendar")

    took = measured([whole, unchanged, plainly_read])
    print(f"{connection.vendor}; {WEEKS * A_WEEK} sessions; medians of {ROUNDS}")
    for ask, expected in ((whole, 200), (unchanged, 304)):
        CalendarAddress.objects.update(answers=0)
        with CaptureQueriesContext(connection) as queries:
            assert ask().status_code == expected
        ratio = took[ask] / took[plainly_read]
        print(f"{ask.__name__:10} {took[ask] * 1e3:6.1f} ms, {len(queries)} queries; {ratio:4.1f} x the plain answer")
    print(f"{'plain':10} {took[plainly_read] * 1e3:6.1f} ms")


def measured(asks: list[Callable[[], HttpResponse]]) -> dict[Callable[[], HttpResponse], float]:
    seconds: dict[Callable[[], HttpResponse], list[float]] = {ask: [] for ask in asks}
    for number in range(WARM_UP + ROUNDS):
        CalendarAddress.objects.update(answers=0)
        for ask in asks:
            began = time.perf_counter()
            ask()
            if number >= WARM_UP:
                seconds[ask].append(time.perf_counter() - began)
    return {ask: statistics.median(times) for ask, times in seconds.items()}


if __name__ == "__main__":
    main()
