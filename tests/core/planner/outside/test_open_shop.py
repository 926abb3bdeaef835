"""Open shop as yes or no: everything fits into the least makespan, and not into one minute less."""

import pytest

from tests.core.planner.outside.documents import best_cost
from tests.core.planner.outside.open_shop import (
    PRINTED_MACHINES,
    PRINTED_TIMES,
    TAILLARD_4X4,
    UNIT_MIN,
    by_machine,
    proved_makespan,
    published_shop,
    random_shop,
    shop_document,
)
from tests.sizes import LONG


def test_the_recipe_draws_the_printed_instance():
    times, orders = published_shop(4, *TAILLARD_4X4[0][:2])
    assert tuple(map(tuple, times)) == PRINTED_TIMES
    assert tuple(tuple(machine + 1 for machine in order) for order in orders) == PRINTED_MACHINES


@pytest.mark.parametrize("seeds", TAILLARD_4X4)
def test_the_plain_model_proves_the_published_makespans(seeds):
    time_seed, machine_seed, makespan = seeds
    assert proved_makespan(by_machine(*published_shop(4, time_seed, machine_seed))) == makespan


def check_edge(shop, minutes):
    assert best_cost(shop_document(shop, minutes)) == (0, 0)
    least, _ = best_cost(shop_document(shop, minutes - 1))
    assert least >= 1


@pytest.mark.parametrize("seed", range(1, 31 if LONG else 4))
def test_a_small_shop_fits_its_makespan_and_no_minute_less(seed):
    shop = random_shop(3, 1000003 * seed, 12)
    check_edge(shop, UNIT_MIN * proved_makespan(shop))


@pytest.mark.skipif(not LONG, reason="minutes: TEAMTRACK_LONG=1")
@pytest.mark.parametrize("seeds", TAILLARD_4X4)
def test_a_published_shop_fits_its_makespan_and_no_minute_less(seeds):
    time_seed, machine_seed, makespan = seeds
    check_edge(by_machine(*published_shop(4, time_seed, machine_seed)), UNIT_MIN * makespan)
