"""A season that changes after a week was made: the week says what it still holds, and one tap takes it over."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from sessions.core.season_document import without_phase
from sessions.models import Demand, DraftStep, Placement, SeasonPlan, SeasonStep, WeekPlan
from sessions.selectors.season_documents import season_document
from sessions.services.change_season import change_season, undo_season
from tests.people import make_coach
from tests.planning import PlanScene, make_placed_week

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(db) -> PlanScene:
    """A week with hard, technique and easy, each with a place."""
    return make_placed_week()


@pytest.fixture
def head(plan, signed_in):
    return signed_in(plan.scene.head_coach)


def change(plan: PlanScene) -> SeasonStep:
    """The hard session takes 90 minutes, the easy one goes, a moderate one comes, technique has one more coach."""
    season = SeasonPlan.objects.get(pk=plan.season.pk)
    extra = make_coach(plan.scene.club, "Lea", plan.scene.group)
    document = season_document(season=season)
    rows = {row["kind"]: row for row in document["patterns"]}
    wanted = [
        rows["hard"] | {"duration_min": 90},
        rows["technique"] | {"coaches": sorted([*rows["technique"]["coaches"], str(extra.pk)])},
        rows["hard"] | {"id": str(uuid4()), "kind": "moderate", "order": 9},
    ]
    asked = document | {"patterns": wanted, "meets": []}
    return change_season(viewer=plan.viewer, season_id=season.pk, revision=season.revision, wanted=asked)


def address(plan: PlanScene, rest: str = "") -> str:
    return f"/head-coach/week/{plan.monday:%G-W%V}{rest}"


def text(response) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def follow(client, plan: PlanScene, revision: int | None = None):
    revision = plan.week.revision if revision is None else revision
    return client.post(address(plan, "/follow"), {"revision": str(revision)})


def held(plan: PlanScene) -> list[tuple[str, int, bool]]:
    rows = Demand.objects.filter(week=plan.week).order_by("kind")
    return [(row.kind, row.duration_min, Placement.objects.filter(demand=row).exists()) for row in rows]


ASKS = "The season now asks for: Sprint moderate, 60 min Sprint hard, 90 min Sprint technique, 60 min: other coaches"
HOLDS = "This week still holds: Sprint easy, 60 min Sprint hard, 60 min"


def test_a_draft_says_what_it_still_holds_and_takes_the_change_over(plan, head):
    """What still fits keeps its place; what takes longer, and what is new, has none."""
    assert "The season was changed" not in text(head.get(address(plan)))
    change(plan)
    page = text(head.get(address(plan)))
    assert ASKS in page and HOLDS in page
    season = text(head.get(f"/head-coach/seasons/{plan.season.pk}"))
    assert "Weeks made before the season was changed" in season
    assert "Sprint moderate, 60 min; Sprint hard, 90 min" in season
    assert follow(head, plan, plan.week.revision - 1).status_code == 409
    before = plan.demand("technique").pk
    assert follow(head, plan).status_code == 302
    assert held(plan) == [("hard", 90, False), ("moderate", 60, False), ("technique", 60, True)]
    technique = plan.demand("technique")
    assert (technique.pk, technique.coaches.count()) == (before, 4)
    assert DraftStep.objects.filter(week=plan.week, what="made").count() == 2
    assert "The season was changed" not in text(head.get(address(plan)))
    assert "Weeks made before" not in text(head.get(f"/head-coach/seasons/{plan.season.pk}"))
    again = follow(head, plan)
    assert (again.status_code, "The week is like that already" in text(again)) == (400, True)


def test_a_change_that_was_undone_leaves_the_week_as_it_is(plan, head):
    """The easy session's row of the pattern went and came back: the week's own session follows from it again."""
    before = plan.demand("easy").pattern_item_id
    step = change(plan)
    season = SeasonPlan.objects.get(pk=plan.season.pk)
    undo_season(viewer=plan.viewer, season_id=season.pk, step_id=step.pk, revision=season.revision)
    assert before is not None and plan.demand("easy").pattern_item_id == before
    assert "The season was changed" not in text(head.get(address(plan)))
    assert head.post(address(plan, "/make")).status_code == 302
    assert held(plan) == [("easy", 60, True), ("hard", 60, True), ("technique", 60, True)]


def test_a_phase_that_went_and_came_back_leaves_each_session_its_row(plan, head):
    season = SeasonPlan.objects.get(pk=plan.season.pk)
    rows = dict(Demand.objects.filter(week=plan.week).values_list("kind", "pattern_item_id"))
    wanted = without_phase(season_document(season=season), str(plan.phase.pk))
    step = change_season(viewer=plan.viewer, season_id=season.pk, revision=season.revision, wanted=wanted)
    assert not Demand.objects.exclude(pattern_item=None).exists()
    undo_season(viewer=plan.viewer, season_id=season.pk, step_id=step.pk, revision=season.revision + 1)
    assert dict(Demand.objects.filter(week=plan.week).values_list("kind", "pattern_item_id")) == rows


def test_a_published_week_is_only_told(plan, head):
    change(plan)
    WeekPlan.objects.filter(pk=plan.week.pk).update(published_at=plan.viewer.now)
    page = text(head.get(address(plan)))
    assert ASKS in page and "stays as it was told" in page and "Take it over" not in page
    assert follow(head, plan).status_code == 400
    assert held(plan) == [("easy", 60, True), ("hard", 60, True), ("technique", 60, True)]


def test_a_week_that_has_begun_and_one_never_made_say_nothing(plan, head):
    change(plan)
    begun = plan.monday - timedelta(days=7)
    WeekPlan.objects.filter(pk=plan.week.pk).update(monday=begun)
    assert "The season was changed" not in text(head.get(f"/head-coach/week/{begun:%G-W%V}"))
    assert "Make from season" in text(head.get(address(plan)))
    assert "Weeks made before" not in text(head.get(f"/head-coach/seasons/{plan.season.pk}"))


def test_it_is_the_head_coach_s_alone(plan, signed_in):
    change(plan)
    for who in (plan.scene.coach, plan.scene.admin, plan.scene.stranger):
        assert follow(signed_in(who), plan).status_code == 404
    assert held(plan) == [("easy", 60, True), ("hard", 60, True), ("technique", 60, True)]
