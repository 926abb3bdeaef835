"""Graph colouring as separation: a graph fits into as many days as it has colours, and into no fewer."""

import pytest

from tests.core.planner.outside.documents import best_cost
from tests.core.planner.outside.graphs import colouring_document, mycielski, queens
from tests.sizes import LONG

long_only = pytest.mark.skipif(not LONG, reason="minutes: TEAMTRACK_LONG=1")
FITS = [(queens, 5, 5), (mycielski, 4, 4), (mycielski, 5, 5)]
FITS_LATER = [(queens, 6, 7), (queens, 7, 7), (queens, 8, 9), (mycielski, 6, 6)]
TOO_FEW = [(queens, 5, 4), (mycielski, 4, 3), (mycielski, 5, 4)]


@pytest.mark.parametrize(("make", "size", "days"), FITS + [pytest.param(*row, marks=long_only) for row in FITS_LATER])
def test_a_graph_fits_into_as_many_days_as_colours(make, size, days):
    assert best_cost(colouring_document(make(size), days)) == (0, 0)


@pytest.mark.parametrize(("make", "size", "days"), TOO_FEW)
def test_a_graph_does_not_fit_into_fewer_days(make, size, days):
    least, _ = best_cost(colouring_document(make(size), days))
    assert least >= 1
