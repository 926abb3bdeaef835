"""Arithmetic of stretches of time: half-open, in order, never touching."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

Stretch = tuple[datetime, datetime]


def merged(stretches: Iterable[Stretch]) -> list[Stretch]:
    """The same time in the fewest stretches, in order; empty ones are dropped."""
    found: list[Stretch] = []
    for start, end in sorted(stretch for stretch in stretches if stretch[0] < stretch[1]):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return found


def without(stretches: Iterable[Stretch], taken: Iterable[Stretch]) -> list[Stretch]:
    """The time of `stretches` that lies in none of `taken`."""
    left = merged(stretches)
    for start, end in merged(taken):
        left = [piece for whole in left for piece in _pieces(whole, start, end)]
    return left


def within(stretches: Iterable[Stretch], bounds: Stretch) -> list[Stretch]:
    """The time of `stretches` that lies in `bounds`."""
    return merged((max(start, bounds[0]), min(end, bounds[1])) for start, end in stretches)


def _pieces(whole: Stretch, start: datetime, end: datetime) -> list[Stretch]:
    if end <= whole[0] or whole[1] <= start:
        return [whole]
    return [piece for piece in ((whole[0], start), (end, whole[1])) if piece[0] < piece[1]]
