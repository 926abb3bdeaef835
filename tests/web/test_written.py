"""What is written about an athlete is put right by who wrote it or a coach of the group; the own words by oneself."""

import re

import pytest

from athletes.models import AccessLogEntry, Restriction
from athletes.services.requests import Asked, open_request
from athletes.viewer import viewer_for
from sessions.models import Entry, Notice, SessionAthlete
from sessions.services.tell_pain import tell_pain
from tests.entries import make_entry, make_pain, pains_kept, tell
from tests.people import answer

CUE = {"feature": "tall_hips", "words": "Hips high", "how": "told", "focus": "", "understood": "yes"}
PAIN = {"place": "hip", "side": "right", "words": "after the second stride"}


def page(browser, athlete):
    return browser.get(f"/coach/athletes/{athlete.pk}/written").content.decode()


def correct(browser, entry, typed, role="coach"):
    return browser.post(address(entry, role), typed)


def address(entry, role="coach"):
    return (
        f"/coach/athletes/{entry.athlete_id}/written/{entry.pk}" if role == "coach" else f"/athlete/written/{entry.pk}"
    )


def let_health_be_written(scene):
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach, scene.second_coach))


def told():
    """Who was told of which pain note, in order."""
    return list(Notice.objects.filter(kind="pain").order_by("made_at").values_list("to_id", "entry_id"))


def undo(browser):
    """Tap the undo bar of the next page."""
    body = browser.get("/coach/athletes").content.decode()
    [action] = re.findall(r'action="(/[^"]+/undo)"', body)
    return browser.post(action)


def test_a_cue_is_put_right_by_a_coach_of_the_group_and_stands_again_when_undone(scene, signed_in):
    cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
    browser = signed_in(scene.second_coach)
    assert "Hops high" in browser.get(address(cue)).content.decode()
    assert correct(browser, cue, CUE).status_code == 302
    new = Entry.objects.get(replaces=cue.pk)
    assert (new.content["words"], new.stride, new.by, new.kind) == ("Hips high", 1, scene.second_coach, "cue")
    assert undo(browser).status_code == 302
    assert "Hops high" in page(browser, scene.athlete) and "Hips high" not in page(browser, scene.athlete)
    assert browser.post(f"{address(new)}/undo").status_code == 409
    lines = AccessLogEntry.objects.filter(actor_role="coach", kind="cue").values_list("verb", flat=True)
    assert sorted(lines) == ["correct", "correct", "record", "record"]


def test_of_two_at_once_the_second_is_shown_what_is_there_and_loses_no_word(scene, signed_in):
    cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
    first, second = signed_in(scene.coach), signed_in(scene.second_coach)
    assert correct(first, cue, CUE).status_code == 302
    assert "Hops high" not in first.get(f"/coach/athletes/{scene.athlete.pk}").content.decode()
    answered = correct(second, cue, {**CUE, "words": "Hips up"})
    body = answered.content.decode()
    assert (answered.status_code, "Hips up" in body, "put this right meanwhile" in body) == (409, True, True)
    assert second.post(f"{address(cue)}/take-back").status_code == 409
    assert Entry.objects.count() == 2


def test_what_will_not_do_loses_nothing(scene, signed_in):
    cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
    browser = signed_in(scene.coach)
    for typed, kept in (({**CUE, "feature": "no_such"}, "Hips high"), ({**CUE, "words": "right\u202eleft"}, "left")):
        answered = correct(browser, cue, typed)
        assert answered.status_code == 400
        assert kept in answered.content.decode()
    assert Entry.objects.count() == 1


def test_taking_back_and_undoing_that(scene, signed_in):
    cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
    browser = signed_in(scene.coach)
    assert browser.post(f"{address(cue)}/take-back").status_code == 302
    assert "Hops high" not in signed_in(scene.second_coach).get(f"/coach/athletes/{scene.athlete.pk}").content.decode()
    assert undo(browser).status_code == 302
    assert "Hops high" in page(browser, scene.athlete)


def test_a_helper_puts_right_their_own_alone(scene, signed_in):
    mine = tell(scene.training_session, scene.athlete, scene.helper, 1, "Hops high")
    other = tell(scene.training_session, scene.athlete, scene.coach, 2, "Tall now")
    browser = signed_in(scene.helper)
    assert (correct(browser, mine, CUE).status_code, correct(browser, other, CUE).status_code) == (302, 404)
    assert browser.post(f"{address(other)}/take-back").status_code == 404


@pytest.mark.parametrize("who", ["other_coach", "head_coach", "admin", "welfare", "guardian", "athlete", "stranger"])
def test_to_others_it_is_as_if_it_were_absent(scene, signed_in, who):
    cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
    browser = signed_in(getattr(scene, who))
    answers = [
        browser.get(address(cue)),
        browser.post(f"{address(cue)}/take-back"),
        browser.post(f"{address(cue)}/undo"),
    ]
    assert {one.status_code for one in answers} == {404}
    if who != "athlete":
        assert browser.get(f"/athlete/written/{cue.pk}").status_code == 404
    assert Entry.objects.count() == 1


def test_a_pain_note_is_read_and_put_right_only_by_those_whom_health_allows(scene, signed_in):
    let_health_be_written(scene)
    note = make_pain(scene.training_session, scene.athlete, scene.coach)
    tell_pain(entry_id=note.pk)
    before = told()
    assert before == [(scene.second_coach.pk, note.pk)]
    assert "since Monday" not in page(signed_in(scene.helper), scene.athlete)
    assert signed_in(scene.helper).get(address(note)).status_code == 404
    browser = signed_in(scene.second_coach)
    assert "since Monday" in page(browser, scene.athlete)
    assert AccessLogEntry.objects.filter(verb="read", kind="pain").count() == 1
    assert correct(browser, note, PAIN).status_code == 302
    [_old, (new, said)] = pains_kept()
    assert (new.replaces, new.content, said) == (note.pk, {}, PAIN)
    tell_pain(entry_id=new.pk)  # of the two, whoever was told of the first note is not told of it again
    assert told() == [*before, (scene.coach.pk, new.pk)]
    answer(scene.athlete, scene.athlete, word="withdrawn")
    assert "after the second" not in page(browser, scene.athlete)
    assert correct(browser, new, {**PAIN, "words": "never"}).status_code == 404


def test_an_athletes_own_words_are_the_athletes_to_put_right(scene, signed_in):
    let_health_be_written(scene)
    note = make_pain(scene.training_session, scene.athlete, scene.athlete)
    felt = make_entry(scene.training_session, "felt", scene.athlete, scene.athlete, effort=5, words="hevy")
    coach, own = signed_in(scene.coach), signed_in(scene.athlete)
    assert "since Monday" in page(coach, scene.athlete)
    assert coach.get(address(note)).status_code == 404
    body = own.get("/athlete/written").content.decode()
    assert "hevy" in body and "since Monday" in body
    typed = {"feature": "", "shown": "", "effort": "4", "feel": "", "words": "heavy"}
    assert correct(own, felt, typed, "athlete").status_code == 302
    assert Entry.objects.get(replaces=felt.pk).content == {"effort": 4, "words": "heavy"}
    assert own.post(f"/athlete/written/{note.pk}/take-back").status_code == 302
    assert "since Monday" not in page(coach, scene.athlete)


def test_what_is_restricted_is_not_put_right_and_who_left_the_roster_is(scene, signed_in):
    cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
    SessionAthlete.objects.filter(athlete=scene.athlete).delete()
    browser = signed_in(scene.coach)
    limit = Restriction.objects.create(
        club=scene.club, athlete=scene.athlete, purpose="feedback", first_day="2020-01-01"
    )
    assert "Hops high" not in page(browser, scene.athlete)
    assert correct(browser, cue, CUE).status_code == 404
    limit.delete()
    assert correct(browser, cue, CUE).status_code == 302


def test_a_familys_request_reaches_the_coaches_and_the_admin_sees_that_it_was_followed(scene, signed_in):
    cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
    own = viewer_for(scene.athlete, "athlete")
    asked = Asked("correction", "feedback", "It was hips.")
    row = open_request(viewer=own, athlete_id=scene.athlete.pk, asked=asked)
    admin, browser = signed_in(scene.admin), signed_in(scene.coach)
    said = admin.get(f"/admin/requests/{row.pk}").content.decode()
    assert "Bran Tester, Rona Tester can put it right" in said and "Hops high" not in said
    assert "something written is to be put right" in browser.get("/today").content.decode()
    for who in ("helper", "other_coach"):
        assert "to be put right" not in signed_in(getattr(scene, who)).get("/today").content.decode()
    assert "It was hips." in page(browser, scene.athlete)
    assert "It was hips." not in page(signed_in(scene.helper), scene.athlete)
    assert correct(browser, cue, CUE).status_code == 302
    assert "1 line put right" in admin.get(f"/admin/requests/{row.pk}").content.decode()
    assert (
        "1 line put right or taken back by Rona Tester"
        in signed_in(scene.athlete).get("/athlete/requests").content.decode()
    )
    undo(browser)
    assert "1 line put right" not in admin.get(f"/admin/requests/{row.pk}").content.decode()


@pytest.mark.parametrize("rows", [1, 30])
def test_the_page_makes_the_same_queries_for_few_and_many(scene, signed_in, rows, django_assert_num_queries):
    for number in range(rows):
        tell(scene.training_session, scene.athlete, scene.coach, 1, f"Words {number}")
    browser = signed_in(scene.coach)
    page(browser, scene.athlete)
    with django_assert_num_queries(13):
        page(browser, scene.athlete)
