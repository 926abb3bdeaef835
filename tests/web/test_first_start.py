"""The first start for real: from an empty database to the first published week, by pages alone."""

import re
from datetime import timedelta
from functools import partial
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from athletes.models import Account, Club, CoachAssignment, EventGroup, GroupMembership, Person, SignInSheet
from athletes.viewer import viewer_for
from sessions.core.iso_week import monday_of
from sessions.core.planner.solve import solve_document
from sessions.models import Proposal, TrainingSession
from sessions.selectors.athlete_list import athlete_list
from sessions.services.solve_proposal import solve_proposal
from teamtrack.common.clock import today_in
from teamtrack.common.models import Job
from tests.web.test_second_factor import set_up_app
from tests.web.test_venues import STRAIGHT

pytestmark = pytest.mark.django_db
CLUB = {"club": "Chalk Lane AC", "zone": "Europe/Dublin", "country": "IE", "emergency": "112", "admin": "Ada Tester"}


@pytest.fixture(autouse=True)
def real(settings):
    settings.DEMO = False


def set_up(**more):
    out = StringIO()
    call_command("setup", **(CLUB | more), stdout=out)
    return out.getvalue()


def test_it_makes_a_club_a_code_told_once_and_no_account():
    said = set_up()
    [code] = re.findall(r"\d{6}-\w{5}-\w{5}-\w{3}", said)
    club = Club.objects.get()
    assert (club.name, club.timezone, club.country) == ("Chalk Lane AC", "Europe/Dublin", "IE")
    assert Account.objects.count() == 0
    assert code.split("-", 1)[1].replace("-", "") not in SignInSheet.objects.get().code_hash
    with pytest.raises(CommandError, match="a club here already"):
        set_up(club="Another")
    assert Club.objects.count() == 1


@pytest.mark.parametrize(
    ("key", "value"),
    [("zone", "Mars/Olympus"), ("country", "Eire"), ("emergency", "nine"), ("club", " "), ("admin", "Ada")],
)
def test_what_cannot_be_is_refused_and_nothing_is_made(key, value):
    with pytest.raises(CommandError):
        set_up(**{key: value})
    assert not Club.objects.exists() and not Person.objects.exists()


def test_the_demo_makes_its_own_club(settings):
    settings.DEMO = True
    with pytest.raises(CommandError, match="demo"):
        set_up()


NEW = "pewter kettle under oak"


CODE = re.compile(r"\d{6}-\w{5}-\w{5}-\w{3}")


def take_code(code, name, *, is_staff=True):
    """Who comes in with a code: refused a short password first, led to the second factor if of the staff."""
    browser = Client()
    assert browser.post("/sheet", {"code": code}).status_code == 200
    short = {"code": code, "username": name, "password": "eleven char", "again": "eleven char", "own": "on"}
    assert browser.post("/sheet/take", short).status_code == 400
    leads_to = done(browser, "/sheet/take", **short | {"password": NEW, "again": NEW})
    assert leads_to.startswith("/me/second-factor") is is_staff
    if is_staff:
        set_up_app(browser)
    return browser


def sheet_for(admin, person):
    """A sign-in sheet made on the admin's page and taken by its owner."""
    page = admin.post("/admin/sign-in-sheets/make", {"person": str(person.pk), "how": "hand"})
    [code] = set(CODE.findall(page.content.decode()))
    return take_code(code, f"{person.given_name.lower()}-quiet-lamp", is_staff=person.given_name != "Nova")


def done(browser, place, **fields):
    """A form sent that leads on to another page."""
    answer = browser.post(place, fields)
    assert answer.status_code == 302, answer.content.decode()[-3000:]
    return answer["Location"]


def revision_on(browser, page):
    return re.search(r'name="revision" value="(\d+)"', browser.get(page).content.decode())[1]


def add_staff(admin, given_name, role):
    fields = {"given_name": given_name, "family_name": "Tester", "birth_date": "1990-01-01", "role": role}
    done(admin, "/admin/staff", **fields)
    return Person.objects.get(given_name=given_name)


def a_club_of_people(admin):
    """Rules, a group, a coach with a check, a head coach, an athlete with a guardian: typed by the first admin."""
    today = today_in("Europe/Dublin")
    athlete = {
        "given_name": "Nova", "family_name": "Tester", "birth_date": "2013-05-01", "first_day": str(today),
        "notice_shown": "on",
    }  # fmt: skip
    early = admin.post("/admin/athletes/new", athlete)
    assert early.status_code == 400
    assert "a named person of the club confirms its rules" in early.content.decode()
    assert "Read and confirm" in admin.get("/admin/to-do").content.decode()
    done(admin, "/admin/rules/confirm", book="europe", by_name="Wilma Tester")
    done(admin, "/admin/groups/groups", group_name="Sprint", discipline="sprint", order=1)
    done(admin, "/admin/groups/squads", squad_name="U14", under=14, order=1)
    group = EventGroup.objects.get()
    coach, head = add_staff(admin, "Rona", "coach"), add_staff(admin, "Hedda", "head_coach")
    place = f"/admin/staff/{coach.pk}"
    done(
        admin, f"{place}/checks", kind="background", seen_on=str(today), expires_on=str(today + timedelta(days=365))
    )  # fmt: skip
    done(admin, f"{place}/groups", group=str(group.pk), first_day=str(today))
    done(admin, "/admin/athletes/new", **athlete)
    runner = Person.objects.get(given_name="Nova")
    place = f"/admin/athletes/{runner.pk}"
    done(admin, f"{place}/group", group=str(group.pk), from_day=str(today))
    done(admin, f"{place}/guardians", given_name="Greta", family_name="Tester")
    assert (CoachAssignment.objects.count(), GroupMembership.objects.count()) == (1, 1)
    [listed] = athlete_list(viewer=viewer_for(coach, "coach"))
    assert [one.athlete for one in listed.athletes] == [runner]
    return coach, head, runner


def test_from_the_code_to_the_first_published_week_by_pages_alone():
    """Each next address is one that the page before leads to, or that the bar of its role names."""
    admin = take_code(*CODE.findall(set_up()), "ada-quiet-lamp")
    assert Account.objects.get().handed_over
    coach, head_coach, runner = a_club_of_people(admin)
    rona, hedda, nova = (sheet_for(admin, one) for one in (coach, head_coach, runner))
    venue = done(hedda, "/head-coach/venues/new", **STRAIGHT, has_lights="on")
    done(hedda, f"{venue}/hours", weekdays=["1", "2", "3", "4", "5"], starts="17:00", ends="21:00")
    for day in range(1, 6):
        done(rona, "/coach/evenings", day=str(day))
    monday = monday_of(today_in("Europe/Dublin")) + timedelta(days=7)
    assert str(monday) in hedda.get("/head-coach/seasons/new").content.decode()
    done(
        hedda, "/head-coach/seasons/new", name="First", first_monday=str(monday), weeks="40", begin_with="one_peak"
    )  # fmt: skip
    week = f"/head-coach/week/{monday:%G-W%V}"
    done(hedda, f"{week}/make")
    done(hedda, f"{week}/propose")
    proposal = Proposal.objects.get()
    solve = partial(solve_document, seconds=10.0, workers=1, seed=1)
    assert solve_proposal(job_id=Job.objects.get(target_id=proposal.pk).pk, solve=lambda found, **_: solve(found))
    done(hedda, f"{week}/proposals/{proposal.pk}/accept", revision=revision_on(hedda, week), whole="on")
    done(hedda, f"{week}/publish", revision=revision_on(hedda, f"{week}/publish"))
    kinds = sorted(TrainingSession.objects.values_list("kind", flat=True))
    assert kinds == ["easy", "moderate", "technique"]
    today = nova.get("/today").content.decode()
    assert today.count("Kiln Yard") == 3 and "technique" in today
    assert "Kiln Yard" in rona.get(f"/coach/week/{monday:%G-W%V}").content.decode()
