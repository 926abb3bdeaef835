"""Open shop as a week's problem: jobs are athletes, machines coaches, operations demands, the makespan a window."""

from itertools import product

from ortools.sat.python import cp_model

from tests.core.planner.outside.documents import demand, document, span

# Starts lie on a grid of five minutes: one unit of a processing time is five minutes.
UNIT_MIN = 5

# E. Taillard (1993), Benchmarks for basic scheduling problems, European Journal of Operational Research 64:278-285:
# seeds of times and of machines of the ten open shops 4x4 (and the first 5x5), as public copies of the paper's table
# print them. The optimal makespans of the 4x4 are from memory; the makespan model below proves each anew.
TAILLARD_4X4 = (
    (1166510396, 164000672, 193),
    (1624514147, 1076870026, 236),
    (1116611914, 1729673136, 271),
    (410579806, 1453014524, 250),
    (1036100146, 375655500, 295),
    (597897640, 322140729, 189),
    (1268670769, 556009645, 201),
    (307928077, 421384574, 217),
    (667545295, 485515899, 261),
    (35780816, 492238933, 217),
)
TAILLARD_5X5 = (
    (527556884, 1343124817),
    (1046824493, 1973406531),
    (1165033492, 86711717),
)
# The first of them as a public copy prints it: times in the order of the draw, then the machines (from 1).
PRINTED_TIMES = ((54, 34, 61, 2), (9, 15, 89, 70), (38, 19, 28, 87), (95, 34, 7, 29))
PRINTED_MACHINES = ((3, 1, 4, 2), (4, 1, 2, 3), (1, 2, 3, 4), (1, 3, 2, 4))


class Lehmer:
    """The paper's generator: x' = 16807 x mod (2^31 - 1), in the form of Bratley, Fox and Schrage that needs no
    number above 2^31; whole numbers drawn from [low, high]."""

    def __init__(self, seed):
        self.x = seed

    def draw(self, low, high):
        self.x = 16807 * (self.x % 127773) - 2836 * (self.x // 127773)
        if self.x < 0:
            self.x += 2**31 - 1
        return low + int(self.x / (2**31 - 1) * (high - low + 1))


def published_shop(size, time_seed, machine_seed):
    """(times, machines) as the paper's recipe draws them: U[1, 99], and for each job a permutation by exchanges."""
    times, machines = Lehmer(time_seed), Lehmer(machine_seed)
    drawn = [[times.draw(1, 99) for _ in range(size)] for _ in range(size)]
    orders = []
    for _ in range(size):
        order = list(range(size))
        for place in range(size):
            other = machines.draw(place + 1, size) - 1
            order[place], order[other] = order[other], order[place]
        orders.append(order)
    return drawn, orders


def by_machine(times, orders):
    """times[job][machine]."""
    shop = [[0] * len(row) for row in times]
    for job, (row, order) in enumerate(zip(times, orders, strict=True)):
        for length, machine in zip(row, order, strict=True):
            shop[job][machine] = length
    return shop


def proved_makespan(shop):
    """The least makespan, by intervals that do not overlap: a plain model that shares nothing with the planner's."""
    model, jobs, machines = cp_model.CpModel(), range(len(shop)), range(len(shop[0]))
    most = sum(map(sum, shop))
    spans = {
        (job, machine): model.new_fixed_size_interval_var(model.new_int_var(0, most, ""), shop[job][machine], "")
        for job, machine in product(jobs, machines)
    }
    for job in jobs:
        model.add_no_overlap([spans[job, machine] for machine in machines])
    for machine in machines:
        model.add_no_overlap([spans[job, machine] for job in jobs])
    end = model.new_int_var(0, most, "")
    for interval in spans.values():
        model.add(interval.end_expr() <= end)
    model.minimize(end)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def shop_document(shop, minutes):
    """Every operation within the first so many minutes."""
    jobs, machines = range(len(shop)), range(len(shop[0]))
    return document(
        days=-(-minutes // (24 * 60)),
        grid_min=UNIT_MIN,
        groups={f"job{job}": [f"athlete{job}"] for job in jobs},
        coaches=[f"machine{machine}" for machine in machines],
        demands=[
            demand(
                f"operation{job}-{machine}",
                group=f"job{job}",
                duration_min=UNIT_MIN * shop[job][machine],
                windows=[span(0, minutes)],
                coaches=[f"machine{machine}"],
            )
            for job, machine in product(jobs, machines)
        ],
    )


def random_shop(size, seed, longest):
    """Times U[1, longest] by the paper's generator."""
    draws = Lehmer(seed)
    return [[draws.draw(1, longest) for _ in range(size)] for _ in range(size)]
