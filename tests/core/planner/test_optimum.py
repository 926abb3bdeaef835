"""The solver against proved answers and against exhaustion."""

import json
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from sessions.core.planner.explain import Explainer
from sessions.core.planner.local_time import read_instant
from sessions.core.planner.problem import Placement
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import RuleBook, broken_rules
from sessions.core.planner.score import score_of
from sessions.core.planner.solve import solve_document
from tests.core.planner.brute_force import BruteForce
from tests.core.planner.tiny_problems import problems
from tests.sizes import examples

EXAMPLES = Path(__file__).parent / "examples"
EXPECTED = json.loads((EXAMPLES / "expected.json").read_text())["problems"]
SMALL = sorted(name for name in EXPECTED if not name.startswith(("week-club", "week-mid")))


def load(name):
    return json.loads((EXAMPLES / name).read_text(), parse_float=Decimal)


def placements_of(plan):
    return [
        Placement(
            row["demand"], read_instant(row["start"]), row["venue"], tuple(row["coaches"]), frozenset(row["excused"])
        )
        for row in plan["placed"]
    ]


def check_plan(document, plan):
    """What holds of every plan whatever its cost."""
    problem = read_problem(document)
    placements = placements_of(plan)
    assert broken_rules(problem, placements) == []
    score = score_of(problem, placements)
    assert plan["score"] == vars(score)
    assert plan["objective"] == score.cost(problem.weights) >= plan["bound"]
    assert (plan["status"] == "optimal") == (plan["objective"] == plan["bound"])
    named = [row["demand"] for row in plan["placed"]] + [row["demand"] for row in plan["unplaced"]]
    assert sorted(named) == sorted(problem.demands)
    for row in plan["unplaced"]:
        assert sum(one["starts_blocked"] for one in row["because"]) == len(problem.starts[row["demand"]])
    assert all(row["reasons"] for row in plan["placed"])


@pytest.mark.parametrize("name", SMALL)
def test_proved_answers_are_matched(name):
    document = load(name)
    plan = solve_document(document, seconds=20, workers=1)
    assert (plan["status"], plan["objective"], plan["bound"]) == (
        "optimal",
        EXPECTED[name]["objective"],
        EXPECTED[name]["bound"],
    )
    check_plan(document, plan)


@pytest.mark.parametrize("name", sorted(name for name in EXPECTED if name.startswith(("week-club", "week-mid"))))
def test_large_weeks_are_bounded_rightly(name):
    """However far the time allows, the plan is sound and the proved optimum lies between bound and objective."""
    document = load(name)
    plan = solve_document(document, seconds=8, workers=2)
    check_plan(document, plan)
    assert plan["bound"] <= EXPECTED[name]["objective"] <= plan["objective"]
    for row in plan["placed"]:
        assert row["away"] == EXPECTED[name].get("away", {}).get(row["demand"], row["away"])


@pytest.mark.parametrize("name", sorted(name for name in EXPECTED if "because" in EXPECTED[name]))
def test_the_starts_of_a_left_out_demand_are_accounted_for(name):
    book = RuleBook(read_problem(load(name)))
    plan = EXPECTED[name]
    assert book.broken(placements_of(plan)) == []
    explainer = Explainer(book, placements_of(plan))
    told = {
        demand: {row["rule"]: row["starts_blocked"] for row in explainer.because(book.problem.demands[demand])}
        for demand in plan["because"]
    }
    assert told == plan["because"]
    assert {row["demand"]: sorted(book.attendance.away[row["demand"]]) for row in plan["placed"]} == {
        row["demand"]: sorted(row["away"]) for row in plan["placed"]
    }


@given(problems())
@settings(max_examples=examples(1000, one_in=40), deadline=None, suppress_health_check=list(HealthCheck))
def test_tiny_problems_cost_what_exhaustion_finds(document):
    plan = solve_document(document, seconds=60, workers=1)
    check_plan(document, plan)
    assert (plan["objective"], plan["status"]) == (BruteForce(document).least_cost(), "optimal")


def test_one_worker_gives_the_same_plan_again():
    document = load("week-small-absent.json")
    first, second = (solve_document(document, seconds=60, workers=1, seed=7) for _ in range(2))
    assert {**first, "seconds": 0} == {**second, "seconds": 0}
