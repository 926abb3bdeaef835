"""The Week page: who sees what, each form with bad input, two at once, the planner at work, the same queries for any
number of rows."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sessions.core.planner.solve import solve_document
from sessions.models import Notice, Placement, Proposal, TrainingSession
from sessions.services.make_week import make_week
from sessions.services.propose_week import propose_week
from sessions.services.solve_proposal import solve_proposal
from sessions.week_words import ID
from teamtrack.common.clock import utc_now
from teamtrack.common.jobs import claim_job
from teamtrack.common.models import Job
from tests.people import make_group, make_session, make_staff
from tests.planning import PlanScene, add_athletes, make_pattern, make_plan_scene, place

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(db) -> PlanScene:
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    return made


@pytest.fixture
def placed(plan) -> PlanScene:
    for kind, day in (("hard", 1), ("technique", 3), ("easy", 5)):
        place(plan.demand(kind), plan.at(day, 18), plan.scene.coach)
    return plan


@pytest.fixture
def head(plan, signed_in) -> Client:
    return signed_in(plan.scene.head_coach)


def address(plan: PlanScene, *parts: object) -> str:
    return "/".join(["/head-coach/week", f"{plan.monday:%G-W%V}", *map(str, parts)])


def ready(plan: PlanScene) -> Proposal:
    """A solved proposal."""
    proposal = propose_week(viewer=plan.viewer, monday=plan.monday)

    def solve(document, **options):
        return solve_document(document, **options | {"seconds": 20.0, "workers": 1})

    solve_proposal(job_id=Job.objects.get(target_id=proposal.pk).pk, solve=solve)
    proposal.refresh_from_db()
    assert proposal.state == "ready"
    return proposal


def text(response) -> str:
    """The page's words without its tags."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


# Reading


def test_the_week_of_today_is_where_the_bar_leads(plan, head, signed_in):
    today = f"{plan.viewer.today:%G-W%V}"
    assert head.get("/head-coach/week").headers["Location"] == f"/head-coach/week/{today}"
    assert signed_in(plan.scene.coach).get("/coach/week").headers["Location"] == f"/coach/week/{today}"


def test_an_empty_week_offers_to_make_it(plan, head):
    other = plan.monday + timedelta(days=7)
    page = head.get(f"/head-coach/week/{other:%G-W%V}")
    assert "Make from season" in text(page)
    head.post(f"/head-coach/week/{other:%G-W%V}/make")
    assert "Make from season" not in text(head.get(f"/head-coach/week/{other:%G-W%V}"))


def test_the_draft_is_drawn_with_its_gaps_in_hours_rounded_down(placed, head):
    """Tuesday 19:00 to Thursday 18:00 is 47 h."""
    page = head.get(address(placed))
    assert page.content.decode().count("47 h") >= 2
    assert "47 h after Tuesday&#x27;s hard session" in page.content.decode()


def test_hours_since_a_hard_session_of_the_week_before_are_said(plan, head):
    make_session(plan.scene.group, kind="hard", day=plan.monday - timedelta(days=1))
    place(plan.demand("technique"), plan.at(0, 18), plan.scene.coach)
    assert "23 h after Sunday&#x27;s hard session" in head.get(address(plan)).content.decode()


def test_who_stays_away_is_named_as_far_as_the_decision_allows(placed, head):
    child = placed.scene.child
    Placement.objects.get(demand=placed.demand("easy")).excused.add(child)
    assert f"Stays away: {child.full_name}" in text(head.get(address(placed)))
    child.memberships.update(notice_shown_on=None)
    page = text(head.get(address(placed)))
    assert child.full_name not in page
    assert "Stays away: 1 person" in page


@pytest.mark.parametrize("label", ["2027-W60", "week", "2027-10", "9999-W01", "2027-W1"])
def test_what_is_no_week_is_not_found(plan, head, signed_in, label):
    assert head.get(f"/head-coach/week/{label}").status_code == 404
    assert signed_in(plan.scene.coach).get(f"/coach/week/{label}").status_code == 404


@pytest.mark.parametrize("who", ["coach", "athlete", "guardian", "admin", "welfare", "stranger"])
def test_nobody_else_finds_the_draft_or_changes_it(placed, signed_in, who):
    proposal = ready(placed)
    client = signed_in(getattr(placed.scene, who))
    easy = placed.demand("easy").pk
    pages = ["", "proposal", "reach", "publish", f"sessions/{easy}"]
    posts = [
        "make", "propose", "undo", "publish", f"sessions/{easy}", f"sessions/{easy}/pin", f"sessions/{easy}/take-out",
        f"proposals/{proposal.pk}/stop", f"proposals/{proposal.pk}/accept",
    ]  # fmt: skip
    assert {client.get(address(placed, part).rstrip("/")).status_code for part in pages} == {404}
    assert {client.post(address(placed, part), {"revision": 1}).status_code for part in posts} == {404}
    assert client.get("/head-coach/season").status_code == 404
    assert placed.week.revision == 1


def test_a_week_of_another_club_is_not_this_one(placed, signed_in):
    """The strangers' head coach sees an own, empty week under the same address, and no row of ours by its id."""
    client = signed_in(make_staff(placed.scene.stranger_club, "Hank", "head_coach"))
    page = client.get(address(placed))
    assert (page.status_code, "Sprint hard" in text(page)) == (200, False)
    easy, proposal = placed.demand("easy"), ready(placed)
    assert client.get(address(placed, "sessions", easy.pk)).status_code == 404
    assert (
        client.post(address(placed, "proposals", proposal.pk, "accept"), {"revision": 1, "whole": "on"}).status_code
        == 404
    )
    assert client.get(address(placed, "publish")).status_code == 404


def test_coaches_read_what_is_published_and_no_draft(placed, head, signed_in):
    client = signed_in(placed.scene.coach)
    page = client.get(f"/coach/week/{placed.monday:%G-W%V}")
    assert "Nothing is published" in text(page)
    head.post(address(placed, "publish"), {"revision": 1})
    page = client.get(f"/coach/week/{placed.monday:%G-W%V}")
    assert "18:00–19:00 Sprint" in text(page)
    assert "<form" not in page.content.decode().split("<main")[1]
    other = signed_in(placed.scene.other_coach)
    assert "Nothing is published" in text(other.get(f"/coach/week/{placed.monday:%G-W%V}"))


# The planner at work


def test_the_page_asks_every_second_and_stays_usable(placed, head):
    assert head.post(address(placed, "propose")).status_code == 302
    page = head.get(address(placed)).content.decode()
    assert 'hx-trigger="every 1s"' in page
    assert "Stop the planner" in page
    assert f"/sessions/{placed.demand('easy').pk}" in page
    part = head.get(address(placed, "proposal"))
    assert "HX-Retarget" not in part.headers
    assert "Waiting for the planner" in text(part)


def test_the_figures_are_told_where_they_are_asked_for(placed, head):
    """In the page under a heading to open; put in place every second, so that what was opened stays open."""
    head.post(address(placed, "propose"))
    claim_job(Job.objects.get().pk)
    Proposal.objects.update(state="running", progress={"best": None, "bound": None, "seconds": 1.0})
    assert "No plan yet" in text(head.get(address(placed, "proposal")))
    Proposal.objects.update(progress={"best": 1260, "bound": 980, "seconds": 2.0})
    part = head.get(address(placed, "proposal")).content.decode()
    assert "A plan is there; a better one is looked for." in part
    assert '<p id="planner-figures" hx-swap-oob="true">The best plan costs 1260; there is none below 980.</p>' in part
    page = head.get(address(placed)).content.decode()
    folded = page[page.index('<details class="fold') :]
    assert '<p id="planner-figures">The best plan costs 1260' in folded


def test_progress_a_second_try_and_a_lost_worker_are_said(placed, head):
    head.post(address(placed, "propose"))
    job = Job.objects.get()
    claim_job(job.pk)
    Proposal.objects.update(state="running", progress={"best": 3, "bound": 1, "seconds": 7.4})
    assert "Working on the week: 7 s" in text(head.get(address(placed, "proposal")))
    Job.objects.update(lease_until=utc_now() - timedelta(seconds=1), attempts=2)
    lost = text(head.get(address(placed, "proposal")))
    assert "try 2 of 3" in lost
    assert "The worker was lost" in lost
    Job.objects.update(state="failed")
    over = head.get(address(placed, "proposal"))
    assert over.headers["HX-Retarget"] == "#proposal"
    assert "given up" in text(over)


def test_at_the_end_the_proposal_stands_beside_the_draft(placed, head):
    Placement.objects.filter(demand=placed.demand("technique")).delete()
    proposal = ready(placed)
    part = head.get(address(placed, "proposal"))
    assert (part.headers["HX-Retarget"], part.headers["HX-Reswap"]) == ("#proposal", "outerHTML")
    assert "1 move" in text(part)
    assert "Sprint technique new: Thu" in text(part)
    assert "h after Tuesday" in text(part)
    assert f"{placed.scene.venue.name} is open with" in text(part)
    assert ID.findall(text(part)) == []  # reasons name places and people, never their ids
    assert f'value="{placed.demand("technique").pk}"' in part.content.decode()
    assert str(proposal.pk) in head.get(address(placed)).content.decode()


def test_stopping_is_one_button(placed, head):
    head.post(address(placed, "propose"))
    proposal = Proposal.objects.get()
    assert head.post(address(placed, "proposals", proposal.pk, "stop")).status_code == 302
    assert "stopped before it began" in text(head.get(address(placed)))


def test_a_failure_is_said_in_its_words(placed, head):
    head.post(address(placed, "propose"))
    Proposal.objects.update(state="failed", failure="The planner failed. Ask it again.")
    assert "The planner failed. Ask it again." in text(head.get(address(placed)))


def test_what_cannot_be_placed_says_why_and_what_would_help(placed, head):
    proposal = ready(placed)
    easy, hard = str(placed.demand("easy").pk), str(placed.demand("hard").pk)
    plan = proposal.plan
    plan["placed"] = [row for row in plan["placed"] if row["demand"] != easy]
    because = [{"rule": "lanes", "items": [], "starts_blocked": 8, "text": "8 starts: no lanes."}]
    fits = [{"change": {}, "text": "Rona stays till 19:30 on Thursday."}]
    plan["unplaced"] = [{"demand": easy, "because": because, "would_fit_if": fits}]
    Proposal.objects.update(plan=plan, progress={"left_out": {hard: "no_leader"}})
    page = text(head.get(address(placed)))
    assert "8 starts: no lanes." in page
    assert "Rona stays till 19:30 on Thursday." in page
    assert "nobody who may lead it" in page


# Forms with bad input


@pytest.mark.parametrize(
    "data",
    [{}, {"revision": "x"}, {"revision": "-1"}, {"revision": "1"}, {"revision": "1", "demands": "nonsense"}],
    ids=["nothing", "no number", "negative", "no tick", "a strange tick"],
)
def test_a_bad_choice_is_told_and_changes_nothing(plan, head, data):
    proposal = ready(plan)
    page = head.post(address(plan, "proposals", proposal.pk, "accept"), data)
    assert (page.status_code, "Not done" in text(page)) == (400, True)
    assert (plan.week.revision, Placement.objects.count()) == (1, 0)


def test_what_was_ticked_stays_ticked_when_the_mix_breaks_a_rule(placed, head):
    """Hard and technique change places in the proposal; hard alone would lie beside technique."""
    proposal = ready(placed)
    hard, technique = str(placed.demand("hard").pk), str(placed.demand("technique").pk)
    for row in proposal.plan["placed"]:
        day = {hard: 3, technique: 1}.get(row["demand"])
        if day is not None:
            row["start"], row["end"] = (placed.at(day, hour).isoformat(timespec="minutes") for hour in (18, 19))
    Proposal.objects.update(plan=proposal.plan)
    page = head.post(address(placed, "proposals", proposal.pk, "accept"), {"revision": 1, "demands": [hard]})
    assert page.status_code == 400
    assert placed.scene.athlete.full_name in text(page)
    assert f'value="{hard}" checked' in page.content.decode()
    assert f'value="{technique}" checked' not in page.content.decode()


def test_the_second_of_two_is_shown_what_changed_and_goes_on_from_there(plan, head, signed_in):
    proposal = ready(plan)
    second = signed_in(make_staff(plan.scene.club, "Second", "head_coach"))
    accept = address(plan, "proposals", proposal.pk, "accept")
    hard, easy = (str(plan.demand(kind).pk) for kind in ("hard", "easy"))
    assert head.post(accept, {"revision": 1, "demands": [hard]}).status_code == 302
    page = second.post(accept, {"revision": 1, "demands": [easy]})
    assert page.status_code == 409
    assert plan.scene.head_coach.full_name in text(page)
    assert "Sprint hard: new" in text(page)
    assert f'value="{easy}" checked' in page.content.decode()
    assert 'name="revision" value="2"' in page.content.decode()
    assert {row.demand.kind for row in Placement.objects.all()} == {"hard"}
    assert second.post(accept, {"revision": 2, "demands": [easy]}).status_code == 302
    assert {row.demand.kind for row in Placement.objects.all()} == {"hard", "easy"}


def move_data(plan: PlanScene, **other: object) -> dict[str, object]:
    day = plan.monday + timedelta(days=6)
    values = {
        "revision": 1,
        "day": day,
        "starts": "18:00",
        "venue": plan.scene.venue.pk,
        "coaches": [plan.scene.coach.pk],
    }
    return values | other


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"day": "2001-01-01"}, "Select a valid choice"),
        ({"day": "tomorrow"}, "Select a valid choice"),
        ({"starts": "25:00"}, "Enter a valid time"),
        ({"starts": ""}, "required"),
        ({"venue": uuid4()}, "Select a valid choice"),
        ({"coaches": []}, "Choose who leads it"),
        ({"coaches": [uuid4()]}, "Select a valid choice"),
        ({"starts": "23:00"}, "outside the hours"),
        ({"starts": "18:05"}, "full quarters"),
    ],
)
def test_a_bad_move_is_told_and_what_was_typed_stays(placed, head, other, words):
    before = Placement.objects.get(demand=placed.demand("easy")).starts_at
    page = head.post(address(placed, "sessions", placed.demand("easy").pk), move_data(placed, **other))
    assert (page.status_code, words in text(page)) == (400, True)
    if "starts" in other:
        assert f'name="starts" value="{other["starts"]}"' in page.content.decode() or other["starts"] == ""
    assert Placement.objects.get(demand=placed.demand("easy")).starts_at == before
    assert placed.week.revision == 1


def test_a_move_is_done_and_undone(placed, head):
    demand = placed.demand("easy")
    assert 'value="18:00"' in head.get(address(placed, "sessions", demand.pk)).content.decode()
    assert head.post(address(placed, "sessions", demand.pk), move_data(placed, starts="19:00")).status_code == 302
    assert Placement.objects.get(demand=demand).starts_at == placed.at(6, 19)
    page = head.get(address(placed)).content.decode()
    offered = re.search(r'name="step" value="([^"]+)">\s*<input type="hidden" name="revision" value="(\d+)"', page)
    assert offered is not None
    assert head.post(address(placed, "undo"), {"step": offered[1], "revision": offered[2]}).status_code == 302
    assert Placement.objects.get(demand=demand).starts_at == placed.at(5, 18)


def test_a_move_over_somebody_elses_keeps_what_was_typed(placed, head, signed_in):
    second = signed_in(make_staff(placed.scene.club, "Second", "head_coach"))
    place_of_easy = address(placed, "sessions", placed.demand("easy").pk)
    assert head.post(place_of_easy, move_data(placed)).status_code == 302
    page = second.post(place_of_easy, move_data(placed, starts="19:15"))
    assert page.status_code == 409
    assert 'value="19:15"' in page.content.decode()
    assert second.post(place_of_easy, move_data(placed, starts="19:15", revision=2)).status_code == 302


@pytest.mark.parametrize("part", ["pin", "take-out"])
def test_pin_and_take_out_want_the_revision(placed, head, part):
    demand = placed.demand("easy")
    page = head.post(address(placed, "sessions", demand.pk, part), {"revision": "x", "pinned": "yes"})
    assert (page.status_code, placed.week.revision) == (400, 1)
    assert head.post(address(placed, "sessions", demand.pk, part), {"revision": 1, "pinned": "yes"}).status_code == 302
    assert head.post(address(placed, "sessions", demand.pk, part), {"revision": 1, "pinned": "no"}).status_code == 409


@pytest.mark.parametrize("data", [{}, {"step": "x", "revision": 1}, {"step": str(uuid4()), "revision": 1}])
def test_an_undo_of_nothing_is_not_found(placed, head, data):
    assert head.post(address(placed, "undo"), data).status_code in (400, 404)
    assert placed.week.revision == 1


# Publishing


def test_the_button_and_the_page_say_whom_publishing_reaches_and_it_does(placed, head):
    assert "Publish: 6 people" in text(head.get(address(placed, "reach")))
    page = head.get(address(placed, "publish"))
    assert "6 people are told" in text(page)
    assert "Sprint hard" in text(page)
    assert head.post(address(placed, "publish"), {"revision": 1}).status_code == 302
    assert Notice.objects.values("to").distinct().count() == 6
    assert "6 people are told" in text(head.get(address(placed)))
    assert "nobody would be told" in text(head.get(address(placed, "publish")))


@pytest.mark.parametrize(("revision", "status"), [("", 400), ("x", 400), ("7", 409)])
def test_a_bad_publishing_publishes_nothing(placed, head, revision, status):
    assert head.post(address(placed, "publish"), {"revision": revision}).status_code == status
    assert not TrainingSession.objects.filter(demand__week=placed.week).exists()


# Season


def test_the_season_shows_its_weeks_and_patterns(placed, head):
    head.post(address(placed, "publish"), {"revision": 1})
    page = text(head.get("/head-coach/season"))
    assert "Spring 10 weeks" in page
    assert "3 planned (180 min), 3 published (180 min)" in page
    assert "specific preparation weeks 1 to 10" in page


# Cost


def test_the_same_queries_for_any_number_of_rows(plan, head, signed_in):
    """Draft and proposal, whom it reaches, the season, the coach's page: with 0, 3 and 30 rows more than one."""
    scene = plan.scene
    make_session(scene.group, day=plan.monday, coaches=(scene.coach,), athletes=(scene.athlete,))
    place(plan.demand("hard"), plan.at(1, 18), scene.coach, excused=(scene.child,))
    ready(plan)
    pages = [(head, address(plan)), (head, address(plan, "proposal")), (head, address(plan, "reach"))]
    pages += [(head, "/head-coach/season"), (signed_in(scene.coach), f"/coach/week/{plan.monday:%G-W%V}")]
    counts = []
    for more in (0, 3, 30):
        add_sessions(plan, more)
        counts.append([queries(client, path) for client, path in pages])
    assert counts[0] == counts[1] == counts[2]


def add_sessions(plan: PlanScene, count: int) -> None:
    """So many demands of a group of their own, placed with somebody away, and as many published sessions."""
    scene, group = plan.scene, make_group(plan.scene.club, f"Group {count}")
    for number, person in enumerate(add_athletes(scene, count)):
        item = make_pattern(plan.phase, group, "easy", venue=scene.venue, coaches=(scene.coach,), order=number)
        values = {"club": scene.club, "group": group, "kind": "easy", "duration_min": 30, "pattern_item": item}
        demand = plan.week.demands.create(**values)
        demand.venues.add(scene.venue)
        demand.coaches.add(scene.coach)
        place(demand, plan.at(number % 7, 17), scene.coach, excused=(person,))
        make_session(scene.group, day=plan.monday, coaches=(scene.coach,), athletes=(person,))


def queries(client: Client, path: str) -> int:
    with CaptureQueriesContext(connection) as found:
        assert client.get(path).status_code == 200
    return len(found)
