"""Forms with a one-time code: printed by an admin, answered without a sign-in, once; found at the desk by the code."""

import logging
import re
from datetime import timedelta

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext

from athletes.access import answers_for
from athletes.core.form_codes import ALPHABET, FormCode, read_code
from athletes.core.tries import PLACE
from athletes.models import AccessLogEntry, ConsentForm, PermissionEvent, RulesConfirmed, Tries
from athletes.selectors.access_log import chain_fault
from athletes.services import consent_forms
from athletes.services.keep import begin_night, keep
from athletes.services.one_time_codes import MOST_TRIES
from athletes.services.tries import key_of
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in, utc_now
from teamtrack.common.logs import JsonLine
from teamtrack.common.qr_code import drawing_of
from teamtrack.common.web.address import place_of
from tests.people import answer, link_guardian, make_athlete, make_guardian, make_staff

CODE = re.compile(r'<strong class="shown">([0-9]{6}-[0-9A-Z]{5}-[0-9A-Z]{5}-[0-9A-Z]{3})</strong>')


def printed(scene, signed_in, person=None):
    """The code on a form that the admin has just printed, and the page."""
    answered = signed_in(scene.admin).post(f"/admin/consents/{(person or scene.guardian).pk}/print")
    assert answered.status_code == 200
    body = answered.content.decode()
    [code] = CODE.findall(body)
    return code, body


def shown(body):
    return re.sub(r'csrfmiddlewaretoken" value="[^"]+|"X-CSRFToken": "[^"]+', "", body)


def send(code, client=None, **said):
    return (client or Client()).post("/form/answer", {"code": code} | said)


def said_of(athlete, **words):
    return {f"{athlete.pk} {purpose}": word for purpose, word in words.items()}


def may(scene, who, athlete, purpose):
    viewer = viewer_for(who, "coach")
    return answers_for(viewer=viewer, athletes=[athlete], purposes=[purpose]).may(athlete.pk, purpose)


def wrong_page(code="", **more):
    answered = Client().post("/form", {"code": code}, **more)
    assert answered.status_code == 400
    return shown(answered.content.decode())


def test_the_form_stands_on_paper_with_its_code_and_the_secret_is_kept_as_a_hash_alone(scene, signed_in):
    code, body = printed(scene, signed_in)
    secret = code.replace("-", "")[6:]
    assert f'<path d="{drawing_of(f"http://testserver/form#{code}").path}"' in body
    assert '<code class="long">http://testserver/form</code>' in body
    for words in (scene.child.full_name, "Wording 1, en", "Signature:", scene.admin.full_name, "destroy after"):
        assert words in body, words
    assert not re.search(r'type="(radio|checkbox)"[^>]* checked', body)
    form = ConsentForm.objects.get()
    assert str(form.number) == code[:6]
    assert identify_hasher(form.code_hash)
    assert secret not in form.code_hash
    assert timedelta(days=13) < form.good_until - utc_now() < timedelta(days=14, minutes=1)
    line = AccessLogEntry.objects.get(kind="consent_form")
    assert (line.verb, line.actor_role) == ("made", "admin")
    admin, place = signed_in(scene.admin), f"/admin/consents/{scene.guardian.pk}"
    again = admin.get(f"{place}/print")
    assert (again.status_code, again["Location"]) == (302, place)
    assert code not in admin.get(place).content.decode()
    assert ConsentForm.objects.count() == 1


def printed_at_once(scene, signed_in, **fields):
    """Names and codes of the forms that one press prints, in their order."""
    answered = signed_in(scene.admin).post("/admin/consents/print", fields)
    if answered.status_code == 302:
        return []
    sheets = answered.content.decode().split('<article class="stack sheet-of-one">')[1:]
    return [(re.search("<h1>(.+?)</h1>", sheet)[1], *CODE.findall(sheet)) for sheet in sheets]


def test_the_forms_of_an_evening_are_printed_at_once_each_on_its_own_page(scene, signed_in):
    """By name, as they are handed out; who holds a good form gets none, until all are wanted anew."""
    everybody = ["Greta Tester", "Noela Tester", "Tam Tester"]
    mine, _body = printed(scene, signed_in)
    admin = signed_in(scene.admin)
    assert "Print 2 missing forms" in admin.get("/admin/consents").content.decode()
    first = printed_at_once(scene, signed_in)
    assert [name for name, _code in first] == everybody[1:]
    assert printed_at_once(scene, signed_in) == []
    assert "Print all forms anew" in admin.get("/admin/consents").content.decode()
    anew = printed_at_once(scene, signed_in, anew="yes")
    assert [name for name, _code in anew] == everybody
    assert len({code for _name, code in first + anew} | {mine}) == 6
    old = shown(Client().post("/form", {"code": mine}).content.decode())
    assert old == wrong_page(), "a code printed before opens nothing any more"
    assert Client().post("/form", {"code": anew[2][1]}).status_code == 200
    lines = AccessLogEntry.objects.filter(kind="consent_form", verb="made")
    assert lines.count() == 6
    assert chain_fault(club_id=scene.club.pk) is None


def test_who_answered_by_link_needs_no_form(scene, signed_in):
    code, _body = printed(scene, signed_in)
    send(code, **said_of(scene.child, health="yes", share="no", feed="no"), **said_of(scene.athlete, health="no"))
    assert "Greta Tester" not in [name for name, _code in printed_at_once(scene, signed_in, anew="yes")]


def test_more_than_one_stack_is_printed_in_several(scene, signed_in, monkeypatch):
    monkeypatch.setattr("athletes.web.consents.MOST_AT_ONCE", 2)
    names = [[name for name, _code in printed_at_once(scene, signed_in)] for _press in range(3)]
    assert names == [["Greta Tester", "Noela Tester"], ["Tam Tester"], []]


def test_who_answers_sees_the_wording_and_a_yes_counts_as_weak_as_it_is(scene, signed_in):
    """Evidence 1 is enough for other coaches and the calendar, never for pain notes (the contract's table)."""
    code, _body = printed(scene, signed_in)
    page = Client().post("/form", {"code": code.replace("-", " ").lower()})
    assert page.status_code == 200
    assert page["Cache-Control"] == "no-store"
    body = page.content.decode()
    for words in ("Yes", "No", scene.child.full_name, "By sending I declare that I am Greta Tester"):
        assert words in body, words
    assert not re.search(r'type="(radio|checkbox)"[^>]* checked', body)
    said = said_of(scene.child, health="yes", share="yes", feed="no")
    kept = send(code, **said, **{f"{scene.child.pk} coaches": str(scene.other_coach.pk)})
    assert kept.status_code == 200
    assert "opens nothing any more" in kept.content.decode()
    events = PermissionEvent.objects.filter(giver=scene.guardian)
    assert {(e.purpose, e.answer, e.method, e.evidence, e.capacity) for e in events} == {
        ("health", "yes", "link", 1, "guardian"),
        ("share", "yes", "link", 1, "guardian"),
        ("feed", "no", "link", 1, "guardian"),
    }
    assert {event.entered_by for event in events} == {scene.guardian}
    assert may(scene, scene.other_coach, scene.child, "share")
    assert not may(scene, scene.coach, scene.child, "health")
    lines = AccessLogEntry.objects.filter(kind__in=("health", "share", "feed"))
    assert {(line.kind, line.verb, line.actor_role, line.code) for line in lines} == {
        ("health", "yes", "guardian", "GUARDIAN_PART"),
        ("share", "yes", "guardian", "GUARDIAN_PART"),
        ("feed", "no", "guardian", "GUARDIAN_PART"),
    }
    assert chain_fault(club_id=scene.club.pk) is None


def test_the_desk_types_the_code_of_the_signed_paper_and_sees_it_in_one_tap(scene, signed_in):
    code, _body = printed(scene, signed_in)
    send(code, **said_of(scene.child, health="yes"))
    admin = signed_in(scene.admin)
    found = admin.post("/admin/consents/by-code", {"code": code})
    assert (found.status_code, found["Location"]) == (302, f"/admin/consents/{scene.guardian.pk}")
    assert "Answered with the code" in admin.get(found["Location"]).content.decode()
    assert admin.post("/admin/consents/seen", {"person": scene.guardian.pk}).status_code == 302
    newest = PermissionEvent.objects.get(method="paper")
    assert (newest.purpose, newest.evidence, newest.entered_by) == ("health", 2, scene.admin)
    assert may(scene, scene.coach, scene.child, "health")


def test_at_the_desk_a_code_that_nothing_waits_for_says_so(scene, signed_in):
    code, _body = printed(scene, signed_in)
    for purpose in ("health", "share", "feed"):
        answer(scene.child, scene.guardian, purpose, "yes", names=(scene.coach,))
    answer(scene.athlete, scene.guardian, "health", "no")
    admin = signed_in(scene.admin)
    told = admin.post("/admin/consents/by-code", {"code": code}, follow=True)
    assert "Nothing waits for Greta Tester any more" in told.content.decode()


def test_a_code_works_once(scene, signed_in):
    code, _body = printed(scene, signed_in)
    assert send(code, **said_of(scene.child, feed="no")).status_code == 200
    again = send(code, **said_of(scene.child, feed="yes"))
    assert again.status_code == 400
    assert shown(again.content.decode()) == wrong_page("what is this")
    assert PermissionEvent.objects.count() == 1
    assert ConsentForm.objects.get().used_at is not None


def test_two_who_send_at_once_are_heard_once(scene, signed_in, monkeypatch):
    """Both have passed the check of the code; the row that is held decides."""
    code, _body = printed(scene, signed_in)
    before = consent_forms.form_by_code

    def slow(**given):
        form = before(**given)
        ConsentForm.objects.update(used_at=utc_now())
        return form

    monkeypatch.setattr(consent_forms, "form_by_code", slow)
    assert send(code, **said_of(scene.child, feed="yes")).status_code == 400
    assert PermissionEvent.objects.count() == 0


def test_unknown_wrong_used_old_and_dead_codes_are_told_alike(scene, signed_in):
    pages = {wrong_page(""), wrong_page("nonsense"), wrong_page("123456-AAAAA-BBBBB-CCC")}
    code, _body = printed(scene, signed_in)
    pages.add(wrong_page(code[:-1] + ("A" if code[-1] != "A" else "B")))
    for change in (
        {"used_at": utc_now()}, {"used_at": None, "good_until": utc_now()},
        {"good_until": utc_now() + timedelta(days=1), "tries": MOST_TRIES},
    ):  # fmt: skip
        ConsentForm.objects.update(**change)
        pages.add(wrong_page(code))
        assert shown(send(code, **said_of(scene.child, feed="yes")).content.decode()) in pages
    assert len(pages) == 1
    assert PermissionEvent.objects.count() == 0
    ConsentForm.objects.update(tries=0)
    assert Client().post("/form", {"code": code}).status_code == 200


def test_ten_wrong_codes_end_a_form(scene, signed_in):
    code, _body = printed(scene, signed_in)
    wrong = code[:-3] + "000" if not code.endswith("000") else code[:-3] + "111"
    for _ in range(MOST_TRIES):
        wrong_page(wrong)
    wrong_page(code)
    assert ConsentForm.objects.get().tries == MOST_TRIES


def test_from_one_place_so_many_wrong_codes_an_hour_and_no_more(scene, signed_in, settings):
    code, _body = printed(scene, signed_in)
    now = utc_now()
    failed = [now.timestamp()] * (PLACE.most - 1)
    Tries.objects.create(key=key_of("code", place_hash("127.0.0.1")), failed_at=failed, last_at=now)
    wrong_page("999999-AAAAA-BBBBB-CCC")
    held = Client().post("/form", {"code": code})
    assert held.status_code == 429 and 880 <= int(held["Retry-After"]) <= 900
    assert send(code, **said_of(scene.child, feed="yes")).status_code == 429
    assert Client().post("/form", {"code": code}, REMOTE_ADDR="192.0.2.7").status_code == 200
    assert Client().post("/form", {"code": code}, HTTP_X_FORWARDED_FOR="192.0.2.8").status_code == 429
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    named = {"HTTP_X_FORWARDED_FOR": "127.0.0.1, 192.0.2.8"}
    assert Client().post("/form", {"code": code}, **named).status_code == 200
    settings.SECURE_PROXY_SSL_HEADER = None
    wrong = Tries.objects.get(key=key_of("code", place_hash("127.0.0.1")))
    Tries.objects.filter(pk=wrong.pk).update(failed_at=[at - 15 * 60 for at in wrong.failed_at])
    assert Client().post("/form", {"code": code}).status_code == 200
    Tries.objects.update(last_at=utc_now() - timedelta(hours=25))
    keep(run_id=begin_night(club=scene.club, day=today_in(scene.club.timezone)).pk)
    assert Tries.objects.count() == 0


def place_hash(address):
    return place_of(RequestFactory().get("/", REMOTE_ADDR=address))


def test_a_new_form_a_paper_and_another_club_make_a_code_useless(scene, signed_in):
    first, _body = printed(scene, signed_in)
    second, _body = printed(scene, signed_in)
    wrong_page(first)
    paper = signed_in(scene.admin).post(f"/admin/consents/{scene.guardian.pk}/typed", said_of(scene.child, feed="no"))
    assert paper.status_code == 302
    wrong_page(second)
    other = make_staff(scene.stranger_club, "Orla", "admin")
    make_guardian(scene.stranger_athlete, "Gwen")
    theirs = signed_in(other)
    refused = theirs.post("/admin/consents/by-code", {"code": second})
    unknown = theirs.post("/admin/consents/by-code", {"code": second[:-1] + ("A" if second[-1] != "A" else "B")})
    assert refused.status_code == unknown.status_code == 400
    assert shown(refused.content.decode()).replace(second, "") == shown(unknown.content.decode()).replace(
        second[:-1] + ("A" if second[-1] != "A" else "B"), ""
    )
    assert scene.guardian.full_name not in refused.content.decode()
    assert theirs.post(f"/admin/consents/{scene.guardian.pk}/print").status_code == 404
    assert signed_in(scene.coach).post("/admin/consents/by-code", {"code": second}).status_code == 404


def test_only_what_waits_for_that_person_can_be_answered(scene, signed_in):
    code, _body = printed(scene, signed_in)
    stranger = make_athlete(scene.club, "Bea", scene.group, age=9)
    body = Client().post("/form", {"code": code}).content.decode()
    assert scene.adult_athlete.full_name not in body and stranger.full_name not in body
    for said in (
        {}, said_of(stranger, feed="yes"), said_of(scene.adult_athlete, feed="yes"),
        said_of(scene.child, ranking="yes"),
    ):  # fmt: skip
        refused = send(code, **said)
        assert refused.status_code == 400
    kept_as_typed = send(code, **said_of(scene.child, share="yes"))
    assert kept_as_typed.status_code == 400
    assert 'value="yes" checked' in kept_as_typed.content.decode()
    assert PermissionEvent.objects.count() == 0
    link_guardian(scene.guardian, stranger)
    assert send(code, **said_of(stranger, feed="yes")).status_code == 200


def test_an_athlete_old_enough_has_a_form_of_their_own(scene, signed_in):
    code, _body = printed(scene, signed_in, scene.adult_athlete)
    assert send(code, **said_of(scene.adult_athlete, health="yes")).status_code == 200
    event = PermissionEvent.objects.get()
    assert (event.capacity, event.giver, event.method) == ("athlete", scene.adult_athlete, "link")


def test_in_somebody_elses_sign_in_no_code_is_answered(scene, signed_in):
    """The contract: an athlete or guardian in somebody else's sign-in is WRONG_SESSION."""
    code, _body = printed(scene, signed_in)
    said = said_of(scene.child, feed="yes")
    refused = send(code, signed_in(scene.athlete), **said)
    assert refused.status_code == 400
    assert "sign in under your own name" in refused.content.decode()
    assert send(code, signed_in(scene.guardian), **said).status_code == 200


def test_a_guardian_who_decides_nothing_has_no_form(scene, signed_in):
    code, _body = printed(scene, signed_in)
    scene.guardian.guardian_of.update(authority="limited")
    body = Client().post("/form", {"code": code}).content.decode()
    assert "Nothing is asked of you any more" in body
    assert send(code, **said_of(scene.child, feed="yes")).status_code == 400
    assert signed_in(scene.admin).post(f"/admin/consents/{scene.care_guardian.pk}/print").status_code == 404


@pytest.mark.parametrize(
    "typed", ["", "1", "12345", "01234A BCDEF GHJKM NP", "123456-ILOVE", "ſ23456" + "A" * 13, "٣" * 19]
)
def test_what_cannot_be_a_code_is_none(typed):
    assert read_code(typed) is None


def test_letters_that_are_mistaken_are_read_as_digits():
    code = FormCode(481516, "1O0ILABCDEFGH".translate(str.maketrans("OIL", "011")))
    assert read_code("481516-loOil-abcde-fgh") == FormCode(481516, "10011ABCDEFGH")
    assert read_code(code.shown) == code
    assert len(ALPHABET) == 32 and not set("ILOU") & set(ALPHABET)


def test_no_log_holds_a_code(scene, signed_in, caplog):
    root = logging.getLogger()
    lines = []

    class Seen(logging.Handler):
        def emit(self, record):
            if not record.name.startswith("django.db"):
                lines.append(JsonLine().format(record))

    seen = Seen(level=logging.DEBUG)
    root.addHandler(seen)
    try:
        with caplog.at_level(logging.DEBUG):
            code, _body = printed(scene, signed_in)
            wrong = code[:-3] + "QQQ"
            answers = [
                Client().get("/form"), Client().post("/form", {"code": wrong}), Client().post("/form", {"code": code}),
                signed_in(scene.admin).post("/admin/consents/by-code", {"code": wrong}),
                send(code), send(code, **said_of(scene.child, feed="yes")), send(code),
            ]  # fmt: skip
    finally:
        root.removeHandler(seen)
    assert lines
    kept = lines + [f"{line.fields} {line.code} {line.kind}" for line in AccessLogEntry.objects.all()]
    kept += [str(dict(one.headers)) + str(one.cookies) for one in answers]
    for secret in (code, code.replace("-", ""), code.replace("-", "")[6:], "QQQ"):
        assert [line for line in kept if secret in line] == []


def test_a_club_without_confirmed_rules_prints_no_form(scene, signed_in, settings):
    settings.DEMO = False
    RulesConfirmed.objects.all().delete()
    answered = signed_in(scene.admin).post(f"/admin/consents/{scene.guardian.pk}/print")
    assert answered.status_code == 400
    assert ConsentForm.objects.count() == 0


def test_the_number_of_queries_does_not_grow_with_the_club(scene, signed_in):
    counts = []
    for number, more in enumerate((0, 3, 27)):
        for index in range(more):
            make_guardian(make_athlete(scene.club, f"More{number}-{index}", scene.group, age=9, account=False), "G")
        code, _body = printed(scene, signed_in)
        with CaptureQueriesContext(connection) as queries:
            assert Client().post("/form", {"code": code}).status_code == 200
        counts.append(len(queries))
    assert len(set(counts)) == 1, counts
