"""The week by API: read, make, ask, take over, publish; bad input, two at once, other clubs, the same queries."""

from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sessions.core.planner.solve import solve_document
from sessions.models import Notice, Placement, Proposal, TrainingSession
from sessions.services.make_week import make_week
from sessions.services.solve_proposal import solve_proposal
from teamtrack.common.models import Job
from tests.people import make_session, make_staff
from tests.planning import PlanScene, make_plan_scene, place
from tests.web.test_week_page import add_sessions
from tests.workers import in_threads

pytestmark = pytest.mark.django_db
JSON = "application/json"


@pytest.fixture
def plan(db) -> PlanScene:
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    return made


@pytest.fixture
def head(plan, signed_in) -> Client:
    return signed_in(plan.scene.head_coach)


def week(plan: PlanScene, *parts: object) -> str:
    return "/".join(["/api/v1/weeks", f"{plan.monday:%G-W%V}", *map(str, parts)])


def post(client: Client, path: str, body: object = None):
    return client.post(path, body, content_type=JSON) if body is not None else client.post(path, content_type=JSON)


def ask(plan: PlanScene, head: Client) -> str:
    """A solved proposal's address."""
    asked = post(head, week(plan, "proposals"))
    assert (asked.status_code, asked.json()["state"]) == (202, "waiting")

    def solve(document, **options):
        return solve_document(document, **options | {"seconds": 20.0, "workers": 1})

    solve_proposal(job_id=Job.objects.get(target_id=asked.json()["id"]).pk, solve=solve)
    return f"/api/v1/proposals/{asked.json()['id']}"


def test_the_whole_way_from_the_season_to_the_published_week(plan, head):
    plan.week.delete()
    made = post(head, week(plan))
    assert (made.status_code, [one["kind"] for one in made.json()["demands"]]) == (200, ["hard", "technique", "easy"])
    proposal = ask(plan, head)
    told = head.get(proposal).json()
    assert (told["state"], told["status"], told["best"], told["unplaced"]) == ("ready", "optimal", told["bound"], [])
    assert [move["aspects"] for move in told["moves"]] == [["placed"]] * 3
    accepted = post(head, f"{proposal}/accept", {"revision": 1})
    assert (accepted.status_code, accepted.json()["revision"]) == (200, 2)
    assert all(one["place"] is not None for one in accepted.json()["demands"])
    published = post(head, week(plan, "publish"), {"revision": 2})
    people = Notice.objects.values("to").distinct().count()
    assert published.json() == {"sessions": 3, "people": people, "published_revision": 2}
    read = head.get(week(plan)).json()
    assert (read["published_revision"], len(read["sessions"])) == (2, 3)


def test_a_part_is_taken_over(plan, head):
    proposal = ask(plan, head)
    easy = str(plan.demand("easy").pk)
    answer = post(head, f"{proposal}/accept", {"revision": 1, "demands": [easy]})
    placed = {one["id"] for one in answer.json()["demands"] if one["place"]}
    assert placed == {easy}
    assert head.get(proposal).json()["state"] == "ready"


def test_the_same_request_twice_is_one_proposal(plan, head):
    first, second = (post(head, week(plan, "proposals")).json()["id"] for _ in range(2))
    assert first == second


def test_stopping(plan, head):
    asked = post(head, week(plan, "proposals")).json()["id"]
    assert post(head, f"/api/v1/proposals/{asked}/stop").json()["state"] == "stopped"


def test_a_coach_reads_what_is_published_and_no_draft(plan, head, signed_in):
    place(plan.demand("easy"), plan.at(5, 18), plan.scene.coach)
    post(head, week(plan, "publish"), {"revision": 1})
    read = signed_in(plan.scene.coach).get(week(plan)).json()
    assert (read["demands"], read["revision"], read["published_revision"]) == ([], 0, None)
    assert [one["kind"] for one in read["sessions"]] == ["easy"]
    assert signed_in(plan.scene.other_coach).get(week(plan)).json()["sessions"] == []


@pytest.mark.parametrize("who", ["coach", "athlete", "guardian", "admin", "welfare", "stranger"])
def test_nobody_else_writes_or_sees_a_proposal(plan, head, signed_in, who):
    proposal = ask(plan, head)
    client = signed_in(getattr(plan.scene, who))
    answers = [
        post(client, week(plan)),
        post(client, week(plan, "proposals")),
        post(client, week(plan, "publish"), {"revision": 1}),
        post(client, f"{proposal}/accept", {"revision": 1}),
        post(client, f"{proposal}/stop"),
        client.get(proposal),
    ]
    absent = client.get(f"/api/v1/proposals/{uuid4()}")
    assert {(answer.status_code, answer.content) for answer in answers} == {(404, absent.content)}
    assert (Placement.objects.count(), plan.week.revision) == (0, 1)


def test_another_clubs_head_coach_finds_none_of_it(plan, head, signed_in):
    proposal = ask(plan, head)
    client = signed_in(make_staff(plan.scene.stranger_club, "Hank", "head_coach"))
    assert client.get(proposal).status_code == 404
    assert post(client, f"{proposal}/accept", {"revision": 1}).status_code == 404
    assert post(client, week(plan, "publish"), {"revision": 1}).status_code == 404
    assert (client.get(week(plan)).json()["demands"], client.get(week(plan)).json()["sessions"]) == ([], [])


def test_who_is_not_signed_in_is_asked_to(plan):
    assert Client().get(week(plan)).status_code == 401
    assert post(Client(), week(plan, "proposals")).status_code == 401


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "revision"),
        ({"revision": "x"}, "revision"),
        ({"revision": -1}, "revision"),
        ({"revision": 2**40}, "revision"),
        ({"revision": 1, "demands": "all"}, "demands"),
        ({"revision": 1, "demands": ["x"]}, "demands"),
        ({"revision": 1, "demands": []}, "demands"),
        ({"revision": 1, "demands": [str(uuid4())]}, "demands"),
        ({"revision": 1, "more": True}, "more"),
        ([], ""),
    ],
)
def test_a_bad_acceptance_names_the_field_and_changes_nothing(plan, head, body, field):
    proposal = ask(plan, head)
    answer = post(head, f"{proposal}/accept", body)
    assert (answer.status_code, answer.json()["code"]) == (400, "CHECK_FIELDS")
    assert list(answer.json()["fields"]) == [field or "non_field_errors"]
    assert (Placement.objects.count(), plan.week.revision) == (0, 1)


@pytest.mark.parametrize("body", [{}, {"revision": None}, {"revision": 1, "x": 1}])
def test_a_bad_publishing_publishes_nothing(plan, head, body):
    assert post(head, week(plan, "publish"), body).status_code == 400
    assert not TrainingSession.objects.filter(demand__week=plan.week).exists()


@pytest.mark.parametrize("body", ["{", "\x00", '"x"'])
def test_what_is_no_json_object_is_refused(plan, head, body):
    answer = head.post(week(plan, "publish"), body, content_type=JSON)
    assert answer.status_code == 400
    assert set(answer.json()) == {"code", "detail", "fields"}


@pytest.mark.parametrize("label", ["2027-W99", "now", "9999-W52", "0000-W01"])
def test_what_is_no_week_is_not_found(plan, head, label):
    assert head.get(f"/api/v1/weeks/{label}").status_code == 404
    assert post(head, f"/api/v1/weeks/{label}").status_code == 404
    assert post(head, f"/api/v1/weeks/{label}/proposals").status_code == 404
    assert post(head, f"/api/v1/weeks/{label}/publish", {"revision": 0}).status_code == 404


@pytest.mark.parametrize(
    ("query", "status"), [("?as=coach", 404), ("?as=king", 400), ("?of=x", 400), ("?as=head_coach", 200)]
)
def test_the_role_is_one_that_is_held(plan, head, query, status):
    assert head.get(week(plan) + query).status_code == status


def test_the_second_of_two_gets_409_with_what_changed(plan, head, signed_in):
    proposal = ask(plan, head)
    second = signed_in(make_staff(plan.scene.club, "Second", "head_coach"))
    first = {"revision": 1, "demands": [str(plan.demand("hard").pk)]}
    assert post(head, f"{proposal}/accept", first).status_code == 200
    for path in (f"{proposal}/accept", week(plan, "publish")):
        answer = post(second, path, {"revision": 1})
        assert (answer.status_code, answer.json()["code"]) == (409, "WEEK_CHANGED")
        assert plan.scene.head_coach.full_name in answer.json()["detail"]
        (line,) = answer.json()["fields"]["changed"]
        assert "Sprint hard" in line


@pytest.mark.django_db(transaction=True)
def test_two_at_once_one_wins(plan, head, signed_in):
    proposal = ask(plan, head)
    second = signed_in(make_staff(plan.scene.club, "Second", "head_coach"))
    hard, easy = (str(plan.demand(kind).pk) for kind in ("hard", "easy"))
    results = in_threads(
        lambda: post(head, f"{proposal}/accept", {"revision": 1, "demands": [hard]}).status_code,
        lambda: post(second, f"{proposal}/accept", {"revision": 1, "demands": [easy]}).status_code,
    )
    assert sorted(results) == [200, 409]
    assert (Placement.objects.count(), plan.week.revision) == (1, 2)


def test_ids_of_who_stays_away_are_only_those_the_reader_may_know(plan, head):
    placement = place(plan.demand("easy"), plan.at(5, 18), plan.scene.coach)
    placement.excused.set([plan.scene.child, plan.scene.athlete])
    plan.scene.child.memberships.update(notice_shown_on=None)
    (found,) = [one["place"] for one in head.get(week(plan)).json()["demands"] if one["place"]]
    assert (found["excused"], found["absent"]) == ([str(plan.scene.athlete.pk)], 2)


def test_a_failed_proposal_says_so(plan, head):
    proposal = ask(plan, head)
    Proposal.objects.update(state="failed", failure="It failed.", plan=None)
    told = head.get(proposal).json()
    assert (told["state"], told["failure"], told["moves"], told["status"]) == ("failed", "It failed.", [], None)
    assert post(head, f"{proposal}/accept", {"revision": 1}).json()["code"] == "NOT_READY"


def test_the_same_queries_for_any_number_of_rows(plan, head):
    make_session(plan.scene.group, day=plan.monday, coaches=(plan.scene.coach,), athletes=(plan.scene.athlete,))
    place(plan.demand("hard"), plan.at(1, 18), plan.scene.coach, excused=(plan.scene.child,))
    proposal = ask(plan, head)
    counts = []
    for more in (0, 3, 30):
        add_sessions(plan, more)
        counts.append([queries(head, week(plan)), queries(head, proposal)])
    assert counts[0] == counts[1] == counts[2]


def queries(client: Client, path: str) -> int:
    with CaptureQueriesContext(connection) as found:
        assert client.get(path).status_code == 200
    return len(found)
