"""Sheets that lead to a sign-in: the first by an admin, a new one by a guardian or by two people of the club."""

import logging
import re
from datetime import timedelta

import pytest
from allauth.mfa.models import Authenticator
from django.contrib.auth.hashers import identify_hasher
from django.test import Client

from athletes.core.passwords import LEAST_ALONE, LEAST_WITH_FACTOR
from athletes.models import (
    AccessLogEntry,
    Account,
    PermissionEvent,
    RecoveryAsk,
    RulesConfirmed,
    SignInSheet,
    Tries,
    Withholding,
)
from athletes.password_rules import suggested_password
from athletes.selectors.access_log import chain_fault
from athletes.services.keep import begin_night, keep
from athletes.services.one_time_codes import MOST_TRIES
from teamtrack.common.clock import today_in, utc_now
from teamtrack.common.logs import JsonLine
from tests.people import PASSWORD, link_guardian, make_athlete, make_guardian, make_staff
from tests.web.test_second_factor import set_up_app

CODE = re.compile(r'<strong class="shown">([0-9]{6}-[0-9A-Z]{5}-[0-9A-Z]{5}-[0-9A-Z]{3})</strong>')
NEW = "pewter kettle under oak"


@pytest.fixture
def newcomer(scene):
    return make_athlete(scene.club, "Zelda", scene.group, age=14, account=False)


def made(browser, **said):
    """The codes on the sheets of a press, and the page."""
    answer = browser.post("/admin/sign-in-sheets/make", said)
    assert answer.status_code == 200, answer.content.decode()
    body = answer.content.decode()
    return CODE.findall(body), body


def take(code, client=None, **said):
    words = {"code": code, "username": "zelda-quiet-lamp", "password": NEW, "again": NEW} | said
    return (client or Client()).post("/sheet/take", words)


def shown(body):
    return re.sub(r'csrfmiddlewaretoken" value="[^"]+|"X-CSRFToken": "[^"]+', "", body)


def test_a_sheet_in_hand_becomes_a_sign_in_once(scene, signed_in, newcomer):
    [code], page = made(signed_in(scene.admin), person=newcomer.pk, how="hand")
    assert "<svg" in page and "Zelda" in page and "Destroy once used" in page
    assert f"/sheet#{code}" not in page, "the address on paper stands without the code: that is in the squares"
    sheet = SignInSheet.objects.get()
    assert identify_hasher(sheet.code_hash) and code.replace("-", "")[6:] not in sheet.code_hash
    assert timedelta(days=13) < sheet.good_until - utc_now() < timedelta(days=14, minutes=1)
    browser = Client()
    asked = browser.post("/sheet", {"code": code.lower().replace("-", " ")})
    assert asked.status_code == 200 and asked["Cache-Control"] == "no-store"
    body = asked.content.decode()
    assert "Hello Zelda" in body and newcomer.family_name not in body
    assert re.search(r'name="username" value="zelda-[a-z]+-[a-z]+"', body)
    done = take(code, browser)
    assert (done.status_code, done["Location"]) == (302, "/")
    assert browser.get("/", follow=True).status_code == 200
    account = Account.objects.get(person=newcomer)
    assert account.handed_over and account.check_password(NEW)
    again = take(code, Client(), username="zelda-other-lamp")
    assert again.status_code == 400 and "opens nothing" in again.content.decode()
    assert Client().post("/sign-in", {"username": "zelda-quiet-lamp", "password": NEW})["Location"] == "/"
    assert chain_fault(club_id=scene.club.pk) is None


def test_on_another_s_phone_it_is_short_unless_said_to_be_one_s_own(scene, signed_in, newcomer):
    [code], _page = made(signed_in(scene.admin), person=newcomer.pk, how="hand")
    browser = Client()
    take(code, browser)
    page = browser.get("/today").content.decode()
    assert "is signed in on a phone that is not their own" in page and newcomer.full_name in page
    assert 'data-shared-idle="300"' in page


def test_a_link_stands_with_its_code_and_counts_less(scene, signed_in):
    """The contract: evidence 2 is who was met in person by an admin who handed over the sign-in; a contact is 1."""
    guardian = make_guardian(scene.child, "Gilda", account=False)
    guardian.email = "gilda@example.org"
    guardian.save()
    [code], page = made(signed_in(scene.admin), person=guardian.pk, how="link")
    assert f"/sheet#{code}" in page and "mailto:gilda%40example.org?subject=" in page
    browser = Client()
    take(code, browser, username="gilda-quiet-lamp")
    asked = browser.post(f"/guardian/permissions/{scene.child.pk}/answer", {"purpose": "health", "answer": "yes"})
    assert asked.status_code == 302
    assert PermissionEvent.objects.get(giver=guardian).evidence == 1
    met = signed_in(scene.guardian)
    met.post(f"/guardian/permissions/{scene.child.pk}/answer", {"purpose": "health", "answer": "yes"})
    assert PermissionEvent.objects.get(giver=scene.guardian).evidence == 2


def test_all_that_are_missing_come_on_a_sheet_each(scene, signed_in, newcomer):
    make_guardian(newcomer, "Gerd", account=False)
    stranger = make_athlete(scene.stranger_club, "Far", account=False)
    browser = signed_in(scene.admin)
    assert "Print all 2 that are missing" in browser.get("/admin/sign-in-sheets").content.decode()
    codes, page = made(browser, how="all")
    assert len(codes) == 2 and page.count('class="stack sheet-of-one"') == 2
    assert not SignInSheet.objects.filter(person=stranger).exists()
    assert browser.post("/admin/sign-in-sheets/make", {"how": "all"}).status_code == 302
    assert SignInSheet.objects.count() == 2


def test_a_new_sheet_and_withdrawing_kill_the_one_before(scene, signed_in, newcomer):
    browser = signed_in(scene.admin)
    [first], _page = made(browser, person=newcomer.pk, how="hand")
    [second], _page = made(browser, person=newcomer.pk, how="hand")
    wrong = shown(Client().post("/sheet", {"code": first}).content.decode())
    assert Client().post("/sheet", {"code": second}).status_code == 200
    sheet = SignInSheet.objects.get(used_at=None)
    assert browser.post(f"/admin/sign-in-sheets/{sheet.pk}/revoke").status_code == 302
    pages = {wrong, shown(Client().post("/sheet", {"code": second}).content.decode())}
    pages |= {shown(Client().post("/sheet", {"code": one}).content.decode()) for one in ("", "123456-AAAAA-BBBBB-CCC")}
    SignInSheet.objects.filter(pk=sheet.pk).update(used_at=None, good_until=utc_now())
    pages.add(shown(Client().post("/sheet", {"code": second}).content.decode()))
    SignInSheet.objects.filter(pk=sheet.pk).update(good_until=utc_now() + timedelta(days=1), tries=MOST_TRIES)
    pages.add(shown(Client().post("/sheet", {"code": second}).content.decode()))
    assert len(pages) == 1


def test_ten_wrong_codes_end_a_sheet(scene, signed_in, newcomer):
    [code], _page = made(signed_in(scene.admin), person=newcomer.pk, how="hand")
    wrong = code[:-3] + ("000" if not code.endswith("000") else "111")
    for _ in range(MOST_TRIES):
        assert Client().post("/sheet", {"code": wrong}).status_code == 400
    assert Client().post("/sheet", {"code": code}).status_code == 400


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"password": "short words", "again": "short words"}, "At least 15 characters"),
        ({"password": "chalk lane zelda 2011", "again": "chalk lane zelda 2011"}, "are guessed first"),
        ({"again": "something else here"}, "The two differ"),
        ({"username": "a b"}, "Letters, figures, dot and dash"),
        ({"username": ""}, "This field is required"),
        ({"username": "TAKEN"}, "This user name is taken"),
        ({"password": "password" * 2, "again": "password" * 2}, "guessed"),
    ],
)
def test_what_will_not_do_is_said_and_the_code_still_works(scene, signed_in, newcomer, said, words):
    if said.get("username") == "TAKEN":
        said = {"username": scene.coach.account.username}
    if said.get("password") == "password" * 2:
        said, words = {"password": "zeldazeldazelda", "again": "zeldazeldazelda"}, "guessed first"
    [code], _page = made(signed_in(scene.admin), person=newcomer.pk, how="hand")
    refused = take(code, **said)
    assert refused.status_code == 400 and words in refused.content.decode()
    assert NEW not in refused.content.decode()
    assert not Account.objects.filter(person=newcomer).exists()
    assert take(code).status_code == 302


def test_staff_need_fewer_characters_for_they_have_a_second_factor(scene, signed_in):
    assert (LEAST_ALONE, LEAST_WITH_FACTOR) == (15, 12)
    coach = make_staff(scene.club, "Cora", "coach")
    coach.account.delete()
    [code], _page = made(signed_in(scene.admin), person=coach.pk, how="hand")
    assert take(code, username="cora-quiet", password="old tin jugs", again="old tin jugs").status_code == 302


def test_four_words_by_chance_make_a_password(db):
    words = {suggested_password() for _ in range(20)}
    assert len(words) == 20
    assert all(len(one.split()) == 4 for one in words)


def test_whoever_signs_in_already_gets_no_sheet_by_one_admin_alone(scene, signed_in):
    for person in (scene.coach, scene.athlete, scene.stranger_athlete):
        answer = signed_in(scene.admin).post("/admin/sign-in-sheets/make", {"person": person.pk, "how": "hand"})
        assert answer.status_code == 404
    assert not SignInSheet.objects.exists()


def test_before_the_rules_are_confirmed_nobody_is_invited(scene, signed_in, newcomer, settings):
    settings.DEMO = False
    RulesConfirmed.objects.all().delete()
    answer = signed_in(scene.admin).post("/admin/sign-in-sheets/make", {"person": newcomer.pk, "how": "hand"})
    assert answer.status_code == 400 and "confirms its rules" in answer.content.decode()


def test_a_guardian_gives_a_child_a_new_sign_in_and_the_child_is_told(scene, signed_in):
    child, guardian = signed_in(scene.athlete), signed_in(scene.guardian)
    page = guardian.get(f"/guardian/permissions/{scene.athlete.pk}").content.decode()
    assert f"/guardian/sign-in-sheet/{scene.athlete.pk}" in page
    made_page = guardian.post(f"/guardian/sign-in-sheet/{scene.athlete.pk}").content.decode()
    [code] = CODE.findall(made_page)
    told = child.get("/today").content.decode()
    assert "A sheet for a new sign-in of yours was made" in told
    own = child.get("/me/sign-ins").content.decode()
    assert f"Made by {scene.guardian.full_name}" in own
    before = scene.athlete.account.username
    assert before in Client().post("/sheet", {"code": code}).content.decode()
    assert take(code, username="ignored-here").status_code == 302
    account = Account.objects.get(person=scene.athlete)
    assert (account.username, account.handed_over, account.sheet_made_at) == (before, False, None)
    assert child.get("/today").status_code == 302, "who was signed in before is signed out"


def test_the_owner_stops_a_sheet(scene, signed_in):
    guardian, child = signed_in(scene.guardian), signed_in(scene.athlete)
    [code] = CODE.findall(guardian.post(f"/guardian/sign-in-sheet/{scene.athlete.pk}").content.decode())
    sheet = SignInSheet.objects.get()
    assert signed_in(scene.child).post(f"/me/sheets/{sheet.pk}/stop").status_code == 404
    assert child.post(f"/me/sheets/{sheet.pk}/stop").status_code == 302
    assert take(code).status_code == 400
    assert "A sheet for a new" not in child.get("/today").content.decode()


def test_only_a_guardian_who_decides_for_a_minor_gives_one(scene, signed_in):
    link_guardian(scene.guardian, scene.adult_athlete)
    limited = make_guardian(scene.athlete, "Lim", authority="limited")
    unverified = make_guardian(scene.athlete, "Unv", authority="unverified")
    kept_out = make_guardian(scene.athlete, "Kep")
    Withholding.objects.create(
        club=scene.club, athlete=scene.athlete, guardian=kept_out, set_by=scene.welfare,
        first_day=today_in(scene.club.timezone),
    )  # fmt: skip
    for who, whom in (
        (scene.guardian, scene.adult_athlete), (scene.care_guardian, scene.child), (limited, scene.athlete),
        (unverified, scene.athlete), (kept_out, scene.athlete), (scene.guardian, scene.stranger_athlete),
    ):  # fmt: skip
        assert signed_in(who).post(f"/guardian/sign-in-sheet/{whom.pk}").status_code == 404
        assert signed_in(who).get(f"/guardian/sign-in-sheet/{whom.pk}").status_code == 404
    assert not SignInSheet.objects.exists()


def test_two_people_of_the_club_give_a_new_one(scene, signed_in):
    secret, _codes = set_up_app(signed_in(scene.second_coach))
    asker, giver = signed_in(scene.head_coach), signed_in(scene.admin)
    assert asker.post("/head-coach/new-sign-in/ask", {"person": scene.second_coach.pk}).status_code == 302
    asker.post("/head-coach/new-sign-in/ask", {"person": scene.second_coach.pk})
    ask = RecoveryAsk.objects.get()
    assert "waits for another person" in asker.get("/head-coach/new-sign-in").content.decode()
    assert asker.post(f"/head-coach/new-sign-in/{ask.pk}/give").status_code == 404
    body = giver.post(f"/admin/new-sign-in/{ask.pk}/give").content.decode()
    [code] = CODE.findall(body)
    assert giver.post(f"/admin/new-sign-in/{ask.pk}/give").status_code == 404, "one ask, one sheet"
    browser = Client()
    taken = take(code, browser, password=NEW)
    assert taken["Location"] == "/sign-in/second", "the second factor is never skipped"
    assert browser.get("/today").status_code == 302
    lines = AccessLogEntry.objects.filter(kind="sign_in_sheet").order_by("seq")
    assert [(line.verb, line.actor_role) for line in lines] == [("ask", "head_coach"), ("made", "admin")]
    assert secret


def test_where_the_factor_is_lost_too_it_goes_with_the_password(scene, signed_in):
    set_up_app(signed_in(scene.second_coach))
    signed_in(scene.head_coach).post("/head-coach/new-sign-in/ask", {"person": scene.second_coach.pk})
    ask = RecoveryAsk.objects.get()
    body = signed_in(scene.welfare).post(f"/welfare/new-sign-in/{ask.pk}/give", {"lifts": "yes"}).content.decode()
    assert Authenticator.objects.exists()
    assert take(CODE.findall(body)[0])["Location"].startswith("/me/second-factor")
    assert not Authenticator.objects.exists()
    assert not Account.objects.get(person=scene.second_coach).handed_over, "no admin has met them"


def test_nobody_asks_and_gives_alone_about_themselves_or_late(scene, signed_in):
    admin = signed_in(scene.admin)
    admin.post("/admin/new-sign-in/ask", {"person": scene.athlete.pk})
    ask = RecoveryAsk.objects.get()
    assert admin.post(f"/admin/new-sign-in/{ask.pk}/give").status_code == 404
    assert signed_in(scene.coach).post(f"/coach/new-sign-in/{ask.pk}/give").status_code == 404
    RecoveryAsk.objects.update(asked_at=utc_now() - timedelta(hours=25))
    assert signed_in(scene.welfare).post(f"/welfare/new-sign-in/{ask.pk}/give").status_code == 404
    signed_in(scene.head_coach).post("/head-coach/new-sign-in/ask", {"person": scene.welfare.pk})
    own = RecoveryAsk.objects.get(person=scene.welfare)
    assert signed_in(scene.welfare).post(f"/welfare/new-sign-in/{own.pk}/give").status_code == 404
    for who, role, whom in (
        (scene.admin, "admin", scene.admin), (scene.coach, "coach", scene.admin),
        (scene.coach, "coach", scene.stranger),
        (scene.helper, "coach", scene.athlete), (scene.other_coach, "coach", scene.athlete),
        (scene.athlete, "coach", scene.child),
    ):  # fmt: skip
        assert signed_in(who).post(f"/{role}/new-sign-in/ask", {"person": whom.pk}).status_code == 404
    assert not SignInSheet.objects.exists()


def test_a_coach_asks_for_an_own_athlete(scene, signed_in):
    assert signed_in(scene.coach).post("/coach/new-sign-in/ask", {"person": scene.child.pk}).status_code == 302
    assert RecoveryAsk.objects.get().person == scene.child
    assert scene.child.full_name in signed_in(scene.admin).get("/admin/new-sign-in").content.decode()


def test_the_night_removes_old_sheets_and_asks(scene, signed_in, newcomer):
    made(signed_in(scene.admin), person=newcomer.pk, how="hand")
    old = utc_now() - timedelta(days=181)
    SignInSheet.objects.update(made_at=old, good_until=old)
    RecoveryAsk.objects.create(club=scene.club, person=scene.child, asked_by=scene.coach, asked_at=old)
    keep(run_id=begin_night(club=scene.club, day=today_in(scene.club.timezone)).pk)
    assert not SignInSheet.objects.exists() and not RecoveryAsk.objects.exists()


def test_no_log_and_no_address_holds_a_code_or_a_password(scene, signed_in, newcomer, caplog):
    root, lines = logging.getLogger(), []

    class Seen(logging.Handler):
        def emit(self, record):
            if not record.name.startswith("django.db"):
                lines.append(JsonLine().format(record))

    seen = Seen(level=logging.DEBUG)
    root.addHandler(seen)
    try:
        with caplog.at_level(logging.DEBUG):
            [code], _page = made(signed_in(scene.admin), person=newcomer.pk, how="hand")
            answers = [
                Client().post("/sheet", {"code": code}), take(code, again="another pewter"), take(code), take(code),
                Client().post("/sign-in", {"username": "zelda-quiet-lamp", "password": "wrong pewter"}),
                Client().post("/sign-in", {"username": "zelda-quiet-lamp", "password": NEW}),
            ]  # fmt: skip
    finally:
        root.removeHandler(seen)
    assert lines
    kept = lines + [f"{line.fields} {line.code} {line.kind}" for line in AccessLogEntry.objects.all()]
    kept += [str(dict(one.headers)) + str(one.cookies) for one in answers]
    kept += [f"{row.key} {row.failed_at}" for row in Tries.objects.all()]
    for secret in (code, code.replace("-", "")[6:], "pewter", PASSWORD, "zelda-quiet-lamp"):
        assert [line for line in kept if secret in line] == [], secret
