"""One lane and slots of one length are an assignment: the same cost as a general assignment solver's."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from tests.core.planner.outside.documents import ONLY_UNPLACED, best_cost, demand, document, minute, span
from tests.sizes import examples

DAY_MIN, SLOTS_A_DAY, SLOT_MIN = 24 * 60, 3, 60


def slot_start(slot):
    return slot // SLOTS_A_DAY * DAY_MIN + slot % SLOTS_A_DAY * SLOT_MIN


def slot_span(slot):
    return span(slot_start(slot), slot_start(slot) + SLOT_MIN)


@st.composite
def cases(draw):
    """Per demand its slots, the preferred ones among them, where it stands now, and its priority; and the weights."""
    slots = range(draw(st.integers(2, 3 * SLOTS_A_DAY)))
    some = st.sets(st.sampled_from(slots))
    rows = [
        {
            "slots": draw(st.sets(st.sampled_from(slots), min_size=1)),
            "preferred": draw(some),
            "now": draw(st.none() | st.sampled_from(slots)),
            "priority": draw(st.integers(1, 3)),
        }
        for _ in range(draw(st.integers(1, 6)))
    ]
    names = ("unplaced", "moved", "unpreferred")
    weights = {name: draw(st.integers(least, 60)) for name, least in zip(names, (1, 0, 0), strict=True)}
    return len(slots), rows, ONLY_UNPLACED | weights


def assignment_cost(slots, rows, weights):
    """By the Hungarian method's successor in SciPy: a column for each slot, and one of its own for each demand to be
    left out in. Costs by the contract's definitions."""
    forbidden = 1 + sum(weights["unplaced"] * 3 + weights["moved"] * 2 + weights["unpreferred"] for _ in rows)
    table = [[forbidden] * (slots + len(rows)) for _ in rows]
    for index, row in enumerate(rows):
        table[index][slots + index] = weights["unplaced"] * row["priority"]
        for slot in row["slots"]:
            cost = weights["unpreferred"] * bool(row["preferred"] and slot not in row["preferred"])
            if row["now"] is not None and slot != row["now"]:
                other_day = slot // SLOTS_A_DAY != row["now"] // SLOTS_A_DAY
                cost += weights["moved"] * (1 + other_day)
            table[index][slot] = cost
    chosen = linear_sum_assignment(table)
    return sum(table[row][column] for row, column in zip(*chosen, strict=True))


def assignment_document(slots, rows, weights):
    demands = [
        demand(
            f"d{index}",
            group=f"g{index}",
            duration_min=SLOT_MIN,
            windows=[slot_span(slot) for slot in sorted(row["slots"])],
            preferred=[slot_span(slot) for slot in sorted(row["preferred"])],
            coaches=[f"c{index}"],
        )
        | {"priority": row["priority"]}
        for index, row in enumerate(rows)
    ]
    current = [
        {"demand": f"d{index}", "start": minute(slot_start(row["now"])), "venue": "ground", "coaches": [f"c{index}"]}
        for index, row in enumerate(rows)
        if row["now"] is not None
    ]
    return document(
        days=-(-slots // SLOTS_A_DAY),
        grid_min=SLOT_MIN,
        groups={f"g{index}": [f"a{index}"] for index in range(len(rows))},
        coaches=[f"c{index}" for index in range(len(rows))],
        demands=demands,
        weights=weights,
        lanes=1,
        current=current,
    )


@given(cases())
@settings(max_examples=examples(1000), deadline=None, suppress_health_check=list(HealthCheck))
def test_one_lane_costs_what_the_assignment_costs(case):
    cost = assignment_cost(*case)
    assert best_cost(assignment_document(*case)) == (cost, cost)
