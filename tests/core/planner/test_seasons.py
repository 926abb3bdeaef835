"""Problems of several weeks solved in parts: against the whole solved at once, and against exhaustion."""

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings

from sessions.core.planner.best import best_plan
from sessions.core.planner.bounds import BoundFinder
from sessions.core.planner.changes import changed
from sessions.core.planner.explain import Explainer
from sessions.core.planner.limits import Rule
from sessions.core.planner.options import Options
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import RuleBook
from sessions.core.planner.score import score_of
from sessions.core.planner.search import Watch, nothing_placed
from sessions.core.planner.season_search import SeasonSearch, is_season, season_plan
from sessions.core.planner.solve import solve_document
from sessions.core.planner.sweeps import Sweeps
from sessions.core.planner.weeks import Weeks
from sessions.core.planner.would_fit import ChangeFinder
from tests.bench.planner.seasons import season
from tests.core.planner.brute_force import BruteForce
from tests.core.planner.test_optimum import check_plan
from tests.core.planner.tiny_problems import problems
from tests.sizes import examples

# Three days each that begin on a Sunday, two of them on the days on which clocks change.
SUNDAYS = (date(2027, 3, 7), date(2027, 3, 28), date(2027, 10, 31))


def small_season(seed, weeks=3):
    return season(weeks, seed, groups=2, size=6, coaches=4)


def solved_in_parts(document, seconds=15, workers=2, **more):
    book = RuleBook(read_problem(document))
    return book, season_plan(book, Weeks(book), Watch(seconds, workers=workers, seed=1, **more))


def check_sound(book, found):
    assert book.broken(found.placements) == []
    assert score_of(book.problem, found.placements).cost(book.problem.weights) == found.objective >= found.bound


@given(problems(SUNDAYS))
@settings(max_examples=examples(100), deadline=None, suppress_health_check=list(HealthCheck))
def test_no_bound_of_parts_is_above_what_exhaustion_finds(document):
    book, found = solved_in_parts(document, workers=1)
    check_sound(book, found)
    assert found.bound <= BruteForce(document).least_cost() <= found.objective


@pytest.mark.parametrize("seed", [1, 2])
def test_parts_come_near_to_the_whole_solved_at_once(seed):
    document = small_season(seed)
    whole = best_plan(RuleBook(read_problem(document)), Watch(60, workers=2, seed=1))
    book, found = solved_in_parts(document)
    check_sound(book, found)
    assert whole.is_proved
    assert found.bound <= whole.objective <= found.objective <= whole.objective * 1.05


def test_costs_of_parts_add_up_to_the_cost_of_the_whole():
    book = RuleBook(read_problem(small_season(3)))
    search = SeasonSearch(book, Weeks(book), Watch(60, workers=2, seed=1))
    search.run()
    plan = list(search.plan.values())
    assert book.broken(plan) == []
    assert search.objective == score_of(book.problem, plan).cost(book.problem.weights)


def test_a_session_that_may_lie_in_either_of_two_weeks_is_placed_once_and_its_bound_holds():
    document = small_season(1, weeks=2)
    first, second = (next(d for d in document["demands"][n:] if d["group"] == "g01") for n in (0, 7))
    first["windows"] = first["windows"][-2:] + second["windows"][:2]
    whole = best_plan(RuleBook(read_problem(document)), Watch(60, workers=2, seed=1))
    book, found = solved_in_parts(document)
    assert Weeks(book).spanning == [first["id"]]
    check_sound(book, found)
    assert found.bound <= whole.objective <= found.objective <= whole.objective * 1.05


def test_a_long_problem_is_solved_in_parts_and_its_progress_told():
    document = season(12, 1, groups=2, size=6, coaches=4)
    told = []
    assert is_season(Weeks(RuleBook(read_problem(document))))
    plan = solve_document(document, seconds=10, workers=2, on_progress=told.append)
    check_plan(document, plan)
    assert told
    assert all(row["bound"] <= row["best"] for row in told if row["best"] is not None)
    assert plan["objective"] <= min(row["best"] for row in told if row["best"] is not None)


def test_what_gives_a_lost_session_of_a_season_a_place_is_asked_beside_its_weeks():
    document = season(12, 1, groups=2, size=6, coaches=4)
    lost = document["demands"][40]
    night = lost["windows"][0]["start"][:10]
    lost["windows"] = [{"start": f"{night}T02:00+00:00", "end": f"{night}T04:00+00:00"}]
    book, found = solved_in_parts(document, seconds=20)
    assert is_season(Weeks(book))
    assert lost["id"] not in {placement.demand for placement in found.placements}
    row = {"demand": lost["id"], "would_fit_if": []}
    ChangeFinder(document, book, found.placements, Watch(120, workers=1, seed=1)).fill([row])
    (change,) = (one["change"] for one in row["would_fit_if"])
    assert list(change) == ["add_window"]
    new = RuleBook(read_problem(changed(document, change)))
    assert new.broken(found.placements) == []
    explainer, demand = Explainer(new, found.placements), new.problem.demands[lost["id"]]
    assert any(explainer.block(demand, start).rule is Rule.COST for start in new.problem.starts[demand.id])


def test_a_week_is_mended_piece_by_piece_from_nothing():
    book = RuleBook(read_problem(season(1, 2, groups=5, size=14, coaches=4)))
    options, watch = Options(book), Watch(60, workers=2, seed=1)
    bounds = BoundFinder(options, watch).find_apart()
    found = Sweeps(options, bounds, watch, nothing_placed(book)).run(60)
    check_sound(book, found)
    assert len(found.placements) == len(book.problem.demands)


def test_who_stops_it_keeps_the_best_plan_so_far():
    document = season(12, 1, groups=2, size=6, coaches=4)
    book, found = solved_in_parts(document, should_stop=lambda: True)
    check_sound(book, found)


def test_one_worker_gives_the_same_season_again():
    one, other = (solved_in_parts(small_season(2, weeks=2), seconds=120, workers=1)[1] for _ in range(2))
    assert one == other
