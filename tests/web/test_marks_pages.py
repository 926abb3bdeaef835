"""Marks: typed by coaches of the group, read from a file whole or not at all, shown with bests by season."""

from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from athletes.models import AccessLogEntry, Mark, Membership, Restriction
from teamtrack.common.clock import today_in
from tests.people import make_athlete


@pytest.fixture
def today(scene):
    return today_in(scene.club.timezone)


@pytest.fixture
def coach(scene, signed_in):
    return signed_in(scene.coach)


def at(scene):
    return f"/coach/athletes/{scene.athlete.pk}/marks"


def typed(day, **more):
    return {"event": "100", "time": "12.64", "timing": "electronic", "wind": "+1.3", "run_on": str(day)} | more


def test_a_mark_is_kept_once_shown_and_undone(scene, coach, signed_in, today):
    for _ in range(2):
        assert coach.post(at(scene), typed(today)).status_code == 302
    mark = Mark.objects.get()
    assert (mark.time_ms, mark.wind_tenths, mark.entered_by) == (12640, 13, scene.coach)
    assert [line.kind for line in AccessLogEntry.objects.filter(club=scene.club)] == ["mark"]
    for who, page in ((scene.coach, at(scene)), (scene.coach, at(scene).removesuffix("/marks")),
                      (scene.head_coach, f"/head-coach/athletes/{scene.athlete.pk}"),
                      (scene.athlete, "/athlete/running")):  # fmt: skip
        assert "12.64" in signed_in(who).get(page).content.decode(), page
    coach.post(f"{at(scene)}/remove", {"mark": str(mark.pk)})
    assert not Mark.objects.exists()
    offer = coach.session["undo_offer"]
    coach.post(offer["action"], offer["fields"])
    again = Mark.objects.get()
    assert (again.time_ms, again.wind_tenths, again.is_hand) == (12640, 13, False)


def test_a_hand_time_and_a_windy_one_say_so(scene, coach, today):
    coach.post(at(scene), typed(today, time="12.32", timing="hand", wind=""))
    coach.post(at(scene), typed(today, time="12.01", wind="2.1"))
    page = coach.get(at(scene)).content.decode()
    assert "12.4 by hand (as 12.64)" in page
    assert "too much to count" in page
    assert page.index("12.4 by hand") < page.index("12.01")  # the best stands first: it counts


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"time": "quick"}, "Write seconds as 12.64"), ({"wind": "gusty"}, "Write the wind as"),
        ({"run_on": ""}, "required"), ({"event": "javelin"}, "valid choice"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_says_what_to_do_and_stays(scene, coach, today, more, words):
    answer = coach.post(at(scene), typed(today, **more))
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not Mark.objects.exists()


def test_only_of_whom_the_record_may_be_used(scene, signed_in, coach, today):
    assert signed_in(scene.other_coach).post(at(scene), typed(today)).status_code == 404
    coach.post(at(scene), typed(today))
    mark = Mark.objects.get()
    theirs = make_athlete(scene.club, "Dana", scene.other_group)
    other = signed_in(scene.other_coach)
    assert other.post(f"/coach/athletes/{theirs.pk}/marks/remove", {"mark": str(mark.pk)}).status_code == 404
    assert coach.post(at(scene), typed(today + timedelta(days=1))).status_code == 400
    assert Mark.objects.count() == 1


def test_none_is_kept_of_a_visitor(scene, coach, today):
    Membership.objects.filter(athlete=scene.athlete).update(is_trial=True)
    Restriction.objects.create(club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=date(2020, 1, 1))
    assert "visitor on trial" in coach.post(at(scene), typed(today)).content.decode()
    assert not Mark.objects.exists()


def a_file(*lines):
    text = "\n".join(("Name;Event;Time;Wind;Date", *lines))
    return {"file": SimpleUploadedFile("marks.csv", text.encode("utf-8-sig"))}


def test_a_file_is_shown_first_then_kept_whole_and_the_same_again_changes_nothing(scene, coach):
    lines = ("Noela Tester;100 m;12,64;+1,3;2026-05-08", "Tester, Ivo;1500m;5:02.30;;2026-05-09")
    shown = coach.post("/coach/marks", a_file(*lines))
    assert (shown.status_code, Mark.objects.count()) == (200, 0)
    assert "2 new marks" in shown.content.decode()
    signed = {"text": shown.context["signed"]}
    for _ in range(2):
        assert coach.post("/coach/marks", signed).status_code == 302
    assert sorted(Mark.objects.values_list("athlete__given_name", "time_ms")) == [("Ivo", 302300), ("Noela", 12640)]
    assert "is there already" in coach.post("/coach/marks", a_file(*lines)).content.decode()


def test_a_date_that_could_be_two_is_asked_about(scene, coach):
    shown = coach.post("/coach/marks", a_file("Noela Tester;100;12.64;;04/05/2026"))
    page = shown.content.decode()
    assert "E2: 04/05/2026 means" in page
    assert page.index("4 May 2026") < page.index("5 April 2026")  # an Irish club's order is offered first
    signed = {"text": shown.context["signed"]}
    assert "means" in coach.post("/coach/marks", signed).content.decode()
    assert not Mark.objects.exists()
    said = signed | {"order": "month_first"}
    assert "1 new mark" in coach.post("/coach/marks", said | {"then": "look"}).content.decode()
    coach.post("/coach/marks", said)
    assert Mark.objects.get().run_on == date(2026, 4, 5)


def test_one_bad_row_and_nothing_is_kept(scene, coach, signed_in):
    make_athlete(scene.club, "Dana", scene.other_group)
    shown = coach.post(
        "/coach/marks",
        a_file(
            "Noela Tester;100;12.64;;2026-05-08", "Dana Tester;100;13.1;;2026-05-08", "Ivo Tester;100;x;;2026-05-08"
        ),
    )
    page = shown.content.decode()
    assert shown.status_code == 400
    assert "Row 3: “Dana Tester” is nobody whose marks you enter" in page
    assert "C4: time “x” cannot be read" in page
    assert coach.post("/coach/marks", {"text": shown.context["signed"]}).status_code == 400
    assert coach.post("/coach/marks", {"text": "forged"}).status_code == 400
    assert coach.post("/coach/marks", a_file()).status_code == 400
    assert not Mark.objects.exists()
