"""Graphs with known chromatic numbers, and colouring as a problem of separation: a colour is a day."""

from itertools import combinations, product

from tests.core.planner.outside.documents import demand, document, span

DAY_MIN = 24 * 60


def queens(size):
    """Squares of a board, joined where a queen goes from one to the other in one move.

    Chromatic numbers of sizes 5 to 8: 5, 7, 7, 9 (M. Vasquez 2004, New results on the queens_n^2 graph coloring
    problem, Journal of Heuristics 10:407-413; the reference is from memory).
    """
    squares = list(product(range(size), repeat=2))
    edges = [
        (one, other) for one, other in combinations(range(len(squares)), 2) if _in_line(squares[one], squares[other])
    ]
    return len(squares), edges


def _in_line(one, other):
    rows, columns = abs(one[0] - other[0]), abs(one[1] - other[1])
    return not rows or not columns or rows == columns


def mycielski(colours):
    """The graph without triangles that needs so many colours (J. Mycielski 1955, Sur le coloriage des graphs,
    Colloquium Mathematicum 3:161-162): two joined vertices, and from each graph the next one, with a shadow of each
    vertex and one more vertex that all shadows are joined to. Four colours: the Grötzsch graph."""
    count, edges = 2, [(0, 1)]
    for _ in range(colours - 2):
        shadows = [pair for one, other in edges for pair in ((one, count + other), (other, count + one))]
        top = [(count + vertex, 2 * count) for vertex in range(count)]
        count, edges = 2 * count + 1, edges + shadows + top
    return count, edges


def colouring_document(graph, days):
    """A group for each vertex, an athlete shared by two groups for each edge, one session a day for everybody."""
    count, edges = graph
    groups = {f"vertex{vertex}": [] for vertex in range(count)}
    for one, other in edges:
        for vertex in (one, other):
            groups[f"vertex{vertex}"].append(f"edge{one}-{other}")
    return document(
        days=days,
        grid_min=60,
        groups=groups,
        coaches=[f"coach{vertex}" for vertex in range(count)],
        policy={"sessions_per_day": 1},
        demands=[
            demand(
                f"session{vertex}",
                group=f"vertex{vertex}",
                duration_min=60,
                windows=[span(day * DAY_MIN, day * DAY_MIN + 60) for day in range(days)],
                coaches=[f"coach{vertex}"],
            )
            for vertex in range(count)
        ],
    )
