"""Measures what grows with a club: search as you type, the roster, a roster file read, compared and put in force.

Run it by `python -m tests.bench.bench_people`: on SQLite, with DATABASE_URL on PostgreSQL. Wanted: a search under 100
ms at 20,000 people, a roster of 2,000 athletes under three times a plain view of the same rows with constant queries,
a file of 5,000 rows previewed in under 10 s.
"""

import statistics
import time
from collections.abc import Callable
from datetime import date, timedelta
from random import Random

from django.db import connection
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext, setup_databases, teardown_databases
from django.urls import include, path

import tests.bench.with_django  # noqa: F401
from athletes.core.roster_file.writing import roster_csv
from athletes.models import (
    ContactNumber,
    EventGroup,
    GroupMembership,
    Guardianship,
    Membership,
    Person,
    RosterFile,
    Squad,
    SquadMembership,
)
from athletes.selectors.known_people import members_of
from athletes.services.roster_files import apply_file, choose, take_file
from athletes.services.roster_undo import undo_file
from athletes.services.roster_work import work_roster_file
from athletes.viewer import in_force, viewer_for
from teamtrack.common.models import Job
from tests.bench.bench_pages import plainly
from tests.people import make_club, make_group, make_staff

PEOPLE, ATHLETES, ROWS, ROUNDS = 20_000, 2_000, 5_000, 20
TYPED = ("a", "ma", "mar", "mara qu", "quillfeather", "zz nobody")
BORN = date(2008, 1, 1)
SYLLABLES = ("ma", "ra", "lo", "ne", "ti", "so", "ve", "du", "ka", "fi", "ber", "qui", "ho", "sten", "pol", "gra")
draw = Random(22)


def plain_roster(request: HttpRequest) -> HttpResponse:
    """Every athlete with squad, groups and what the gaps rest on, each table read once."""
    club = request.user.person.club_id
    people = Person.objects.filter(club=club, memberships__isnull=False).distinct()
    rows = list(
        people.order_by("family_name", "given_name").values_list("id", "given_name", "family_name", "birth_date")
    )
    held = Q(club=club) & in_force(date.today())
    squads = dict(SquadMembership.objects.filter(held).values_list("athlete_id", "squad__name"))
    groups = dict(GroupMembership.objects.filter(held).values_list("athlete_id", "group__name"))
    numbers = dict(ContactNumber.objects.filter(club=club).values_list("athlete_id", "phone"))
    guardians = dict(Guardianship.objects.filter(held).values_list("athlete_id", "authority"))
    tables = (squads, groups, numbers, guardians)
    return plainly((*row, *(table.get(row[0]) for table in tables)) for row in rows)


urlpatterns = [path("plain/roster", plain_roster), path("", include("teamtrack.urls"))]


def main() -> None:
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        with override_settings(ROOT_URLCONF=__name__):
            print(connection.vendor)
            roster()
            search()
            files()
    finally:
        teardown_databases(databases, verbosity=0)


def name(parts: int) -> str:
    return "".join(draw.choice(SYLLABLES) for _ in range(parts)).title()


def fill(club: object, athletes: int, others: int = 0) -> None:
    """Athletes with squad, group, guardian and number; others who are none."""
    group, squad = make_group(club), Squad.objects.create(club=club, name="U16")
    people = [
        Person(
            club=club, given_name=name(2), family_name=name(3), birth_date=date(2008, 1, 1) + timedelta(days=n % 3000)
        )
        for n in range(athletes)
    ]
    guardians = [
        Person(club=club, given_name=name(2), family_name=one.family_name, phone="0855550101") for one in people
    ]
    more = [Person(club=club, given_name=name(2), family_name=name(3)) for _ in range(others)]
    Person.objects.bulk_create([*people, *guardians, *more], batch_size=500)
    since = {"club": club, "first_day": date(2024, 1, 1)}
    shown = date(2024, 1, 1)
    Membership.objects.bulk_create(Membership(athlete=one, notice_shown_on=shown, **since) for one in people)
    SquadMembership.objects.bulk_create(SquadMembership(athlete=one, squad=squad, **since) for one in people)
    GroupMembership.objects.bulk_create(GroupMembership(athlete=one, group=group, **since) for one in people)
    pairs = list(zip(people, guardians, strict=True))
    Guardianship.objects.bulk_create(Guardianship(athlete=a, guardian=g, **since) for a, g in pairs)
    ContactNumber.objects.bulk_create(
        ContactNumber(club=club, athlete=a, name=g.full_name, relation="mother", phone=g.phone) for a, g in pairs
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def timed(work: Callable[[], object], rounds: int = ROUNDS) -> tuple[float, float]:
    """Median and longest, in ms, after one round to warm up."""
    work()
    taken = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        taken.append((time.perf_counter() - began) * 1e3)
    return statistics.median(taken), max(taken)


def signed_in(person: Person) -> Client:
    browser = Client(SERVER_NAME="localhost")
    browser.force_login(person.account)
    return browser


def roster() -> None:
    club = make_club(name="Roster bench")
    admin = make_staff(club, "Ada", "admin")
    browser = signed_in(admin)
    counts = []
    for athletes in (200, ATHLETES - 200):
        fill(club, athletes)
        with CaptureQueriesContext(connection) as queries:
            assert browser.get("/admin/roster").status_code == 200
        counts.append(len(queries))
    page, _ = timed(lambda: browser.get("/admin/roster"), 7)
    plain, _ = timed(lambda: browser.get("/plain/roster"), 7)
    print(f"roster of {ATHLETES}: {page:.0f} ms, plain {plain:.0f} ms, {page / plain:.1f} x, queries {counts}")


def search() -> None:
    club = make_club(name="Search bench")
    people = {"admin": make_staff(club, "Ada", "admin"), "head-coach": make_staff(club, "Hedda", "head_coach")}
    fill(club, PEOPLE // 4, PEOPLE // 2)
    for part, person in people.items():
        browser = signed_in(person)
        for typed in TYPED:
            post = {"name": typed}
            median, longest = timed(
                lambda: browser.post(f"/{part}/people/find", post, headers={"HX-Request": "true"})  # noqa: B023
            )
            print(f"search of {PEOPLE} as {part}, {typed!r}: median {median:.0f} ms, longest {longest:.0f} ms")


def files() -> None:
    """A whole club written out, half of it changed, read into an empty club and then again."""
    source = make_club(name="Source")
    fill(source, ROWS)
    content = roster_csv(members_of(viewer_for(make_staff(source, "Ada", "admin"), "admin")))
    lines = content.decode("utf-8-sig").split("\r\n")
    without_key = ("\r\n".join(line.partition(",")[2] for line in lines)).encode()
    viewer = viewer_for(make_staff(make_club(name="Target"), "Ada", "admin"), "admin")
    for again in ("into an empty club", "a second time"):
        began = time.perf_counter()
        file = take_file(viewer=viewer, content=without_key)
        work()
        file.refresh_from_db()
        print(f"{ROWS} rows previewed {again}: {time.perf_counter() - began:.1f} s, {file.preview['counts']}")
        if file.preview["counts"]["add"]:
            first = apply(viewer, file)
    began = time.perf_counter()
    undo_file(viewer=viewer, file_id=first.pk)
    print(f"taken back: {time.perf_counter() - began:.1f} s")


def apply(viewer: object, file: RosterFile) -> RosterFile:
    names = {
        "notice_shown": True,
        "squads": {"U16": "new"},
        "groups": {"Sprint": f"new:{EventGroup.Discipline.SPRINT}"},
    }
    open_rows = [line["row"] for line in file.preview["lines"] if line["kind"] == "ask"]
    choose(viewer=viewer, file_id=file.pk, options=names, rows={str(row): {"who": "new"} for row in open_rows})
    work()
    began = time.perf_counter()
    apply_file(viewer=viewer, file_id=file.pk)
    work()
    file.refresh_from_db()
    print(f"put in force: {time.perf_counter() - began:.1f} s, {file.state}")
    return file


def work() -> None:
    for job in Job.objects.filter(task="athletes.work_roster_file", state=Job.State.WAITING):
        work_roster_file(job_id=job.pk)


if __name__ == "__main__":
    main()
