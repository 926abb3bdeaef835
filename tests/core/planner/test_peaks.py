"""The least peak of coaches against trying every way to share the sessions out."""

from collections import Counter
from itertools import combinations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.planner.peaks import least_peak
from tests.sizes import examples

COACHES = "abcd"
needs = st.lists(
    st.tuples(st.integers(1, 3), st.frozensets(st.sampled_from(COACHES), min_size=1)), min_size=0, max_size=5
)


def by_trying(wanted):
    ways = [list(combinations(sorted(able), min(observers, len(able)))) for observers, able in wanted]
    busiest = (max(Counter(coach for team in teams for coach in team).values(), default=0) for teams in product(*ways))
    return min(busiest)


@settings(max_examples=examples(2000), deadline=None)
@given(needs)
def test_no_way_of_sharing_has_a_lower_peak_and_one_has_it(wanted):
    assert least_peak(wanted) == by_trying(wanted)
