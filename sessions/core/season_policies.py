"""A group's rules in a phase: the usual ones, gentler ones, or its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sessions.core.planner.problem import DEFAULT_SEPARATION_H, Policy

WIDER = 1.25
"""Gentler: separations so many times as long (common practice, no source), one rest day more, fewer excused."""
GENTLE_EXCUSED_SHARE = 0.2
_MOST_REST_DAYS = 7


def gentler(usual: Mapping[str, Any]) -> dict[str, Any]:
    """A policy of the planning contract made gentler: separations (hours) times 1.25, one rest day a week more, at most
    a fifth of the group excused from a session; all else as it was. What the policy leaves out has its default."""
    plain = Policy()
    table = usual.get("separation_h", DEFAULT_SEPARATION_H)
    rest = usual.get("rest_days_per_week", plain.rest_days_per_week)
    return dict(usual) | {
        "separation_h": {
            earlier: {later: hours * WIDER for later, hours in row.items()} for earlier, row in table.items()
        },
        "rest_days_per_week": min(rest + 1, _MOST_REST_DAYS),
        "max_excused_share": min(GENTLE_EXCUSED_SHARE, usual.get("max_excused_share", float(plain.max_excused_share))),
    }


def policy_in_phase(usual: Mapping[str, Any], style: str | None, own: Mapping[str, Any]) -> dict[str, Any]:
    """What holds: the group's usual policy (`style` None), the same made gentler, or with `own` fields in its place."""
    if style == "gentler":
        return gentler(usual)
    return dict(usual) | (dict(own) if style == "own" else {})
