"""Who runs next: first whoever has not run yet, the overlooked before the others, then the longest rested."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Runner:
    """A runner who is here.

    `looks_last_time`: how many strides coaches judged at the last training session, 0 where there was none;
    `rested_s`: seconds since the last stride, None before the first; `wants_rest_s`: the recovery wanted, in seconds;
    `strides_done` and `strides_wanted`: today's.
    """

    id: str
    looks_last_time: int
    rested_s: float | None
    wants_rest_s: float
    strides_done: int
    strides_wanted: int

    @property
    def is_done(self) -> bool:
        return self.strides_done >= self.strides_wanted


@dataclass(frozen=True, slots=True)
class Place:
    """One place in the order; `wait_s`: seconds until the runner is rested, 0 if now."""

    id: str
    wait_s: float


def running_order(runners: Iterable[Runner]) -> tuple[Place, ...]:
    """The order of the runners who still have strides to run; those alike keep the order in which they are given.

    Never by speed. Before the first stride the one who got the fewest looks last time comes first; after it the one
    who has rested longest. Common practice, no published source.
    """
    waiting = [runner for runner in runners if not runner.is_done]
    return tuple(Place(runner.id, _wait_s(runner)) for runner in sorted(waiting, key=_turn))


def _turn(runner: Runner) -> tuple[bool, float]:
    if runner.rested_s is None:
        return (False, runner.looks_last_time)
    return (True, -runner.rested_s)


def _wait_s(runner: Runner) -> float:
    return 0 if runner.rested_s is None else max(0, runner.wants_rest_s - runner.rested_s)
