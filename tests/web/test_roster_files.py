"""A roster file from the page to the rows and back: whole or not at all, the same twice changes nothing, undo."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from athletes.models import (
    AccessLogEntry,
    Account,
    ContactNumber,
    EventGroup,
    GroupMembership,
    Guardianship,
    LedgerLine,
    Membership,
    PermissionEvent,
    Person,
    Restriction,
    RosterFile,
    RulesConfirmed,
    Squad,
    SquadMembership,
    StaffRole,
)
from athletes.services.access_log import Act, log_acts
from athletes.services.keepers_of_people import blank_people
from athletes.services.roster_files import MOST_FILES, take_file
from athletes.services.roster_work import work_roster_file
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from teamtrack.common.errors import Refused
from teamtrack.common.models import Job
from tests.people import answer as answer_of
from tests.people import make_athlete, make_guardian

HEAD = "Given name,Family name,Birth date,Squad,Event groups,Guardian 1,Guardian 1 phone,Number to ring,May collect\r\n"
ZOE = "Zoë,Quill,2012-04-13,U16,Sprint,Mór Quill,085 555 0101,085 555 0101,Mór Quill\r\n"
ODA = "Oda,Quill,2014-05-20,U14,Sprint; Throws,Mór Quill,0855550101,,\r\n"
COUNTED = (Person, Membership, SquadMembership, GroupMembership, Guardianship, ContactNumber, Squad, EventGroup)
AUTHORITY = (Account, StaffRole, PermissionEvent)


@pytest.fixture
def admin(scene, signed_in):
    return signed_in(scene.admin)


def work():
    for job in Job.objects.filter(state=Job.State.WAITING, task="athletes.work_roster_file"):
        work_roster_file(job_id=job.pk)


def read(admin, text, name="list.csv"):
    content = text if isinstance(text, bytes) else text.encode()
    answer = admin.post("/admin/roster/files", {"file": SimpleUploadedFile(name, content)})
    assert answer.status_code == 302, answer.content.decode()
    work()
    return answer["Location"]


def choose(admin, page, then="apply", **said):
    said = {"shown": "notice_shown", "notice_shown": "on"} | said
    answer = admin.post(f"{page}/choose", {"then": then, **said})
    work()
    return answer


def counts(models=COUNTED):
    return [model._base_manager.count() for model in models]


def apply(admin, text, **said):
    page = read(admin, text)
    choose(admin, page, **said)
    assert RosterFile.objects.get(pk=page.rsplit("/", 1)[1]).state == "applied", admin.get(page).content.decode()
    return page


NEW = {"squad-0": "new", "squad-1": "new", "group-0": "new:youth"}


def test_a_file_comes_in_whole_with_guardians_not_yet_checked_and_no_authority(scene, admin):
    authority = counts(AUTHORITY)
    page = read(admin, HEAD + ZOE + ODA)
    shown = admin.get(page).content.decode()
    assert "U14" in shown and "Throws" in shown and "Zoë Quill" in shown
    choose(admin, page, **NEW)
    zoe, oda = Person.objects.filter(family_name="Quill", guarded_by__isnull=False).order_by("-given_name")
    assert (zoe.given_name, oda.given_name, zoe.search_name) == ("Zoë", "Oda", " quill zoe")
    links = Guardianship.objects.filter(athlete__in=(zoe, oda))
    assert {link.authority for link in links} == {"unverified"}
    assert len({link.guardian_id for link in links}) == 1
    assert ContactNumber.objects.get(athlete=zoe).may_collect
    assert {row.group.name for row in GroupMembership.objects.filter(athlete=oda)} == {"Sprint", "Throws"}
    assert counts(AUTHORITY) == authority
    entry = AccessLogEntry.objects.filter(club=scene.club).latest("seq")
    assert (entry.verb, entry.kind, entry.fields) == ("applied", "roster_file", ["added 2", "changed 0"])
    file = RosterFile.objects.get()
    assert (bytes(file.content), file.choices) == (b"", {})


def test_the_same_file_twice_changes_nothing(scene, admin):
    apply(admin, HEAD + ZOE + ODA, **NEW)
    before = counts()
    page = read(admin, HEAD + ZOE + ODA)
    assert RosterFile.objects.get(pk=page.rsplit("/", 1)[1]).preview["counts"]["same"] == 2
    assert "Nothing would change." in admin.get(page).content.decode()
    choose(admin, page)
    assert counts() == before


def test_the_roster_written_out_comes_back_in_unchanged(scene, admin):
    apply(admin, HEAD + ZOE + ODA, **NEW)
    content = admin.get("/admin/roster/out").content
    page = read(admin, content)
    said = RosterFile.objects.get(pk=page.rsplit("/", 1)[1]).preview
    assert (said["faults"], said["two_ways"], said["counts"]["same"]) == ([], [], 5)
    assert sum(said["counts"].values()) == 5


def test_one_fault_stops_all_and_names_its_cell(scene, admin):
    before = counts()
    page = read(admin, HEAD + ZOE + "Oda,Quill,2014-02-30,,,,,,\r\n")
    text = admin.get(page).content.decode()
    assert "1 cell to put right" in text and "Birth date" in text and "2014-02-30" in text
    assert '<th scope="row">C3</th>' in text
    assert "Put it in the roster" not in text
    choose(admin, page)
    assert counts() == before


def test_a_day_that_could_be_two_is_asked_and_the_answer_kept(scene, admin):
    page = read(admin, HEAD + "Zoë,Quill,03/04/2012,,,,,,\r\n")
    text = admin.get(page).content.decode()
    assert text.index("3 April 2012") < text.index("4 March 2012")  # an Irish club's order is offered first
    assert "checked" not in text
    choose(admin, page, order="month_first")
    assert not Person.objects.filter(family_name="Quill").exists()  # read anew first, then shown
    choose(admin, page)
    assert str(Person.objects.get(family_name="Quill").birth_date) == "2012-03-04"


def test_conflicts_and_doubles_wait_for_a_choice_and_follow_it(scene, admin):
    born = scene.athlete.birth_date
    Person.objects.filter(pk=scene.athlete.pk).update(phone="085 555 0001")
    head = "First name,Surname,DOB,Mobile\r\n"
    text = head + f"Noela,Tester,{born},085 555 0002\r\nIvoo,Tester,{scene.child.birth_date},\r\n"
    page = read(admin, text)
    shown = admin.get(page).content.decode()
    assert "085 555 0001" in shown and "nearly this name" in shown
    choose(admin, page)
    scene.athlete.refresh_from_db()
    assert scene.athlete.phone == "085 555 0001"
    assert "Something is still open" in admin.get(page).content.decode()
    choose(admin, page, then="keep", **{"row-2": "file"})
    choose(admin, page, **{"row-3": f"{scene.child.pk}:here"})
    scene.athlete.refresh_from_db(), scene.child.refresh_from_db()
    assert (scene.athlete.phone, scene.child.given_name) == ("085 555 0002", "Ivo")


def test_authority_that_was_checked_stays(scene, admin):
    text = "Given name,Family name,Birth date,Guardian,Guardian phone\r\n"
    text += f"Noela,Tester,{scene.athlete.birth_date},Greta Tester,085 555 0107\r\n"
    apply(admin, text)
    [link] = Guardianship.objects.filter(athlete=scene.athlete)
    assert (link.authority, link.guardian) == ("full", scene.guardian)
    assert Person.objects.get(pk=scene.guardian.pk).phone == "085 555 0107"


def test_somebody_of_another_club_is_nobody_here(scene, admin):
    one = scene.stranger_athlete
    text = f"Line key,Given name,Family name\r\n{one.pk},Una,Tester\r\n"
    page = read(admin, text)
    assert "belongs to nobody here" in admin.get(page).content.decode()


def test_undo_takes_all_back_also_what_was_changed(scene, admin):
    before = counts()
    squads = [*SquadMembership.objects.values_list("athlete_id", "squad__name", "last_day")]
    text = HEAD + ZOE + ODA + f"Noela,Tester,{scene.athlete.birth_date},U16,Throws,,,,\r\n"
    page = apply(admin, text, **NEW, values="file")
    assert [row.group.name for row in GroupMembership.objects.filter(athlete=scene.athlete, last_day=None)] == [
        "Throws"
    ]
    assert "Undo" in admin.get(page).content.decode()
    assert admin.post(f"{page}/undo").status_code == 302
    assert counts() == before
    assert [*SquadMembership.objects.values_list("athlete_id", "squad__name", "last_day")] == squads
    assert GroupMembership.objects.get(athlete=scene.athlete).last_day is None
    assert LedgerLine.objects.filter(what="roster_file").count() == 1
    assert "taken back before" in admin.post(f"{page}/undo", follow=True).content.decode()


def _answers(scene, zoe):
    make_guardian(zoe, "Grandma")


def _checks_guardian(scene, zoe):
    Guardianship.objects.filter(athlete=zoe).update(authority="full")


def _looks(scene, zoe):
    with transaction.atomic():
        log_acts(viewer=viewer_for(scene.coach, "coach"), acts=[Act("read", "health", zoe.pk)])


def _retypes(scene, zoe):
    zoe.phone = "085 555 0009"
    zoe.save()


@pytest.mark.parametrize("happens", [_answers, _checks_guardian, _looks, _retypes])
def test_undo_stops_once_something_rests_on_it(scene, admin, happens):
    page = apply(admin, HEAD + ZOE, **{"squad-0": "new"})
    happens(scene, Person.objects.get(given_name="Zoë"))
    before = counts()
    text = admin.post(f"{page}/undo", follow=True).content.decode()
    assert "It stays" in text
    assert counts() == before


def test_what_changed_meanwhile_is_shown_before_anything_is_written(scene, admin):
    page = read(admin, HEAD + ZOE)
    choose(admin, page, then="keep", **{"squad-0": "new"})
    make_athlete(scene.club, "Zoe", account=False)
    Person.objects.filter(given_name="Zoe").update(family_name="Quill", birth_date="2012-04-13")
    before = counts()
    choose(admin, page)
    assert counts() == before
    assert "The club changed" in admin.get(page).content.decode()


def test_a_visit_twice_applies_once(scene, admin):
    page = read(admin, HEAD + ZOE)
    for _ in range(2):
        said = {"then": "apply", "squad-0": "new", "shown": "notice_shown", "notice_shown": "on"}
        admin.post(f"{page}/choose", said)
    work(), work()
    assert Person.objects.filter(given_name="Zoë").count() == 1


def test_before_the_rules_are_confirmed_no_file_is_taken(scene, settings, admin):
    settings.DEMO = False
    assert not RulesConfirmed.objects.exists()
    answer = admin.post("/admin/roster/files", {"file": SimpleUploadedFile("a.csv", (HEAD + ZOE).encode())})
    assert answer.status_code == 400
    assert "confirms its rules" in answer.content.decode()


def test_uploads_are_bounded(scene, admin):
    for file in (SimpleUploadedFile("a.csv", b""), SimpleUploadedFile("a.csv", b"x" * 5_000_001)):
        assert admin.post("/admin/roster/files", {"file": file}).status_code == 400
    viewer = viewer_for(scene.admin, "admin")
    for number in range(MOST_FILES):
        take_file(viewer=viewer, content=b"x%d" % number)
    with pytest.raises(Refused):
        take_file(viewer=viewer, content=b"y")
    work()
    page = f"/admin/roster/files/{RosterFile.objects.first().pk}"
    assert "No row of headings" in admin.get(page).content.decode()
    assert admin.post(f"{page}/drop").status_code == 302
    assert RosterFile.objects.count() == MOST_FILES - 1


def test_files_go_with_whom_they_may_name(scene, admin):
    read(admin, HEAD + ZOE)
    blank_people(scene.club.pk, [scene.athlete.pk])
    assert RosterFile.objects.count() == 0
    assert Person.objects.get(pk=scene.athlete.pk).search_name == ""


def test_the_emergency_sheet_names_numbers_and_collectors_by_group(scene, admin):
    more = {"club": scene.club, "athlete": scene.child}
    ContactNumber.objects.create(name="Greta", relation="mother", phone="085 555 0111", may_collect=True, **more)
    text = admin.post("/admin/roster/emergency").content.decode()
    assert text.index("Sprint") < text.index("Ivo Tester")
    assert "085 555 0111" in text and "Destroy after" in text and "no number to ring" in text
    assert scene.stranger_athlete.full_name not in text
    assert AccessLogEntry.objects.latest("seq").fields == ["emergency_sheet"]


@pytest.mark.parametrize("typed", ["ive", "ivo te", "TES iv", "ívo", "  ivo"])
def test_people_are_found_by_the_beginnings_of_their_names(scene, admin, signed_in, typed):
    scene.child.given_name = "Íve-Ivo"
    scene.child.save()
    for browser, part in ((admin, "admin"), (signed_in(scene.head_coach), "head-coach")):
        text = browser.post(f"/{part}/people/find", {"name": typed}, headers={"HX-Request": "true"}).content.decode()
        assert "Íve-Ivo Tester" in text
        assert text.count("<li>") == 1


def test_guardians_are_found_by_the_admin_alone_and_nobody_else_searches(scene, admin, signed_in):
    found = {"name": "greta"}
    assert "Greta Tester" in admin.post("/admin/people/find", found).content.decode()
    assert "Greta Tester" not in signed_in(scene.head_coach).post("/head-coach/people/find", found).content.decode()
    for nothing in ("", "  ", "%", "_", "zz", "una"):
        answer = admin.post("/admin/people/find", {"name": nothing}, headers={"HX-Request": "true"})
        assert "<li>" not in answer.content.decode()
    assert signed_in(scene.coach).post("/admin/people/find", found).status_code == 404


def test_a_search_makes_the_same_queries_for_one_and_for_many(scene, admin):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            answer = admin.post("/admin/people/find", {"name": "test"}, headers={"HX-Request": "true"})
        return len(queries), answer.content.decode()

    asked()
    few, text = asked()
    assert text.count("<li>") == 12
    for number in range(30):
        make_athlete(scene.club, f"More{number}", account=False)
    many, text = asked()
    assert (many, text.count("<li>"), "There are more" in text) == (few, 12, True)


def test_nobody_joins_before_the_notice_was_shown(scene, admin):
    page = read(admin, HEAD + ZOE)
    answer = admin.post(f"{page}/choose", {"then": "apply", "shown": "notice_shown", "squad-0": "new"}, follow=True)
    assert "Something is still open" in answer.content.decode()
    choose(admin, page)
    member = Membership.objects.get(athlete__given_name="Zoë")
    assert member.first_day == member.notice_shown_on == today_in(scene.club.timezone)
    assert "Zoë Quill" in admin.get("/admin/roster").content.decode()


def test_whoever_left_comes_back_by_a_file(scene, admin):
    Membership.objects.filter(athlete=scene.child).update(last_day="2021-01-01")
    born = f"Given name,Family name,Birth date\r\nIvo,Tester,{scene.child.birth_date}\r\n"
    answer_of(scene.child, scene.guardian)
    page = read(admin, born)
    text = admin.get(page).content.decode()
    assert "Left on 1 January 2021." in text and "is a member again from today" in text
    choose(admin, page)
    assert "Something is still open" in admin.get(page).content.decode()
    choose(admin, page, **{"row-2": str(scene.child.pk)})
    again = Membership.objects.get(athlete=scene.child, last_day=None)
    assert again.notice_shown_on == again.first_day == today_in(scene.club.timezone)
    assert PermissionEvent.objects.filter(athlete=scene.child).latest("at").answer == "withdrawn"
    assert AccessLogEntry.objects.filter(kind="member", verb="added").exists()
    admin.post(f"{page}/undo")
    assert not Membership.objects.filter(athlete=scene.child, last_day=None).exists()
    page = read(admin, born)
    choose(admin, page, back="away")
    assert "Nothing would change." not in admin.get(page).content.decode()
    assert not Membership.objects.filter(athlete=scene.child, last_day=None).exists()


def test_a_visitor_on_trial_stays_one_until_an_admin_says_that_they_join(scene, admin):
    today = today_in(scene.club.timezone)
    first, last = today - timedelta(days=3), today + timedelta(days=20)
    Membership.objects.filter(athlete=scene.child).update(is_trial=True, first_day=first, last_day=last)
    dated = {"first_day": first, "last_day": last, "purpose": "feedback"}
    Restriction.objects.create(club=scene.club, athlete=scene.child, **dated)
    text = f"Given name,Family name,Birth date,Member since,Phone\r\nIvo,Tester,{scene.child.birth_date},{today}"
    page = apply(admin, text + ",085 555 0142\r\n", values="file")
    [trial] = Membership.objects.filter(athlete=scene.child)
    assert (trial.is_trial, trial.first_day, trial.last_day) == (True, first, last)
    page = read(admin, text + "\r\n")
    assert "on trial until" in admin.get(page).content.decode()
    choose(admin, page, then="keep", **{"trial-2": "joins"})
    assert "Put it in the roster" in admin.get(page).content.decode()
    choose(admin, page, **{"trial-2": "joins"})
    ended, member = Membership.objects.filter(athlete=scene.child).order_by("first_day")
    assert (ended.last_day, member.first_day, member.is_trial) == (today - timedelta(days=1), today, False)
    assert Restriction.objects.get().last_day == today - timedelta(days=1)
    admin.post(f"{page}/undo")
    assert Membership.objects.get(athlete=scene.child).last_day == Restriction.objects.get().last_day == last
