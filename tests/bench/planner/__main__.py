"""The planner against a direct model of the same contract: python -m tests.bench.planner [seconds of the direct model]

For each problem: objective, bound, gap, seconds and peak memory of the planner in a process of its own; then objective,
bound and seconds of the direct model (one constraint a rule, nothing clever) with as many workers. `--twenty [seconds
of the direct model [weeks ...]]` compares the two on twenty smaller weeks, or on those of them.
"""

import json
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

from sessions.core.planner.reading import read_problem
from sessions.core.planner.solve import solve_document
from tests.bench.planner.direct_model import DirectModel
from tests.bench.planner.linked import linked
from tests.bench.planner.replans import replans
from tests.bench.planner.seasons import season

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "core" / "planner" / "examples"
SECONDS, WORKERS = 60.0, 2
TWENTY = range(1, 21)


@dataclass(frozen=True)
class Instance:
    """One problem in a file: the seconds that the planner gets, and whether the direct model is tried on it."""

    path: Path
    seconds: float = SECONDS
    has_direct: bool = True

    @property
    def name(self) -> str:
        return self.path.stem


def main() -> None:
    direct_s = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    with TemporaryDirectory() as folder:
        proved = [HERE / "demo_week.json", *sorted(EXAMPLES.glob("*-*.json")), *disturbed(Path(folder))]
        instances = [*map(Instance, proved), *made(Path(folder))]
        ours = [measured_alone(one) for one in instances]  # first, for a child's memory counts from its parent's
        table(instances, ours, direct_s)


def twenty(direct_s: float, seeds: Sequence[int]) -> None:
    """The median ratio to the direct model over weeks of five groups, each until its best plan is proved or its time
    is over."""
    ratios = []
    for seed in seeds:
        problem = json.loads(json.dumps(season(1, seed, groups=5, size=14, coaches=4)))
        began = time.perf_counter()
        plan = solve_document(problem, seconds=SECONDS, workers=WORKERS)
        ours = time.perf_counter() - began
        began = time.perf_counter()
        status, objective, _ = DirectModel(read_problem(problem)).solve(direct_s, WORKERS)
        theirs = time.perf_counter() - began
        ratios.append(ours / theirs)
        print(f"week {seed}: {plan['objective']} ({plan['status']}) in {ours:.2f} s", end="; ")
        print(f"direct {objective} ({status.lower()}) in {theirs:.2f} s; {ratios[-1]:.2f}", flush=True)
    print(f"median {statistics.median(ratios):.2f}")


def made(folder: Path) -> Iterator[Instance]:
    """Weeks with athletes in two groups, a large club's week, and a season."""
    week = json.loads((EXAMPLES / "week-club.json").read_text())
    drawn = [(share, seed) for share in (2, 6) for seed in (1, 2, 3)]
    problems = [(f"{share} % in two groups, {seed}", linked(week, share / 100, seed), 40.0) for share, seed in drawn]
    large = season(1, 1, groups=40, size=25, coaches=28, straights=12)
    crowded = season(1, 1, groups=40, size=25, coaches=28)
    problems += [("large club, 40 groups", large, 60.0), ("the same on three straights", crowded, 60.0)]
    problems += [("season of 38 weeks", season(38, 1), 45.0)]
    for name, problem, seconds in problems:
        path = folder / f"{name}.json"
        path.write_text(json.dumps(problem))
        yield Instance(path, seconds, has_direct="two groups" in name)


def disturbed(folder: Path) -> list[Path]:
    """The demo week with a plan in force, disturbed in each way; every problem in a file of its own."""
    week = HERE / "demo_week.json"
    command = [sys.executable, "manage.py", "solve_plan", str(week), "--seconds", str(SECONDS)]
    plan = json.loads(subprocess.run(command, capture_output=True, text=True, check=True, cwd=HERE.parents[2]).stdout)
    found = []
    for name, problem in replans(json.loads(week.read_text()), plan):
        found.append(folder / f"demo week, {name}.json")
        found[-1].write_text(json.dumps(problem))
    return found


def table(instances: list[Instance], ours: list[dict[str, float]], direct_s: float) -> None:
    print("| problem | objective | bound | gap | seconds | peak memory | direct model | its seconds |")
    print("|---|---|---|---|---|---|---|---|")
    for one, plan in zip(instances, ours, strict=True):
        print(f"| {one.name} | {plan['objective']} | {plan['bound']} | {plan['objective'] - plan['bound']}", end=" ")
        print(f"| {plan['seconds']:.2f} | {plan['memory_mb']} MB", end=" ")
        if one.has_direct:
            status, objective, bound, seconds = direct(one.path, direct_s)
            print(f"| {status.lower()} {objective} (bound {bound}) | {seconds:.2f} |", flush=True)
        else:
            print("| not tried | |", flush=True)


def measured_alone(one: Instance) -> dict[str, float]:
    """One problem solved in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.planner", "--alone", str(one.path), str(one.seconds)]
    told: dict[str, float] = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    return told


def direct(path: Path, seconds: float) -> tuple[str, int | None, int, float]:
    problem = read_problem(load(path))
    began = time.perf_counter()
    answer = DirectModel(problem).solve(seconds, WORKERS)
    return *answer, time.perf_counter() - began


def alone(path: Path, seconds: float) -> None:
    """One problem in this process; the search alone is timed as the plan tells it."""
    plan = solve_document(load(path), seconds=seconds, workers=WORKERS, seed=1)
    used = [resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    memory_mb = max(used) // 1024
    told = {name: plan[name] for name in ("objective", "bound", "seconds")}
    print(json.dumps(told | {"memory_mb": memory_mb}))


def load(path: Path) -> object:
    return json.loads(path.read_text(), parse_float=Decimal)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--alone"]:
        alone(Path(sys.argv[2]), float(sys.argv[3]))
    elif sys.argv[1:2] == ["--twenty"]:
        told = sys.argv[2:]
        twenty(float(told[0]) if told else SECONDS, [int(seed) for seed in told[1:]] or TWENTY)
    else:
        main()
