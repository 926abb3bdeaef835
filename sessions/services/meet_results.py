"""How a meet went: a result that is a time of a running event becomes the athlete's mark."""

import re
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from athletes.core.marks import Event, TimeFault, read_time, read_wind, written
from athletes.models import Mark, Person
from athletes.selectors.marks import marks_of
from athletes.services.marks import enter_mark, remove_mark
from athletes.viewer import Viewer
from sessions.models import MeetEntry

_EVENT = re.compile(r"(\d+)m?(h|hurdles|sc|steeplechase)?", re.ASCII)
BY_HAND = "h"


@dataclass(frozen=True)
class TimeRun:
    """A result as a time: "12.61", "12.61 +1.3", by hand "12.6h"."""

    event: Event
    time_ms: int
    is_hand: bool
    wind_tenths: int | None


def time_run(event: str, result: str) -> TimeRun | None:
    """The result as a time of a running event; None for other events, and for what is no time (did not start)."""
    known, parts = event_of(event), result.split()
    if known is None or not 1 <= len(parts) <= 2:
        return None
    is_hand = parts[0].endswith(BY_HAND)
    try:
        time_ms = read_time(parts[0].removesuffix(BY_HAND))
        wind = read_wind(parts[1]) if len(parts) == 2 else None
    except TimeFault:
        return None
    return TimeRun(known, time_ms, is_hand, wind)


def event_of(text: str) -> Event | None:
    """The running event of "100 m", "100", "60 m hurdles", "mile"."""
    plain = "".join(text.lower().split())
    found = _EVENT.fullmatch(plain)
    kind = (found[2] or "") if found else ""
    code = f"{found[1]}{'h' if kind.startswith('h') else 'sc' if kind else ''}" if found else plain
    return Event(code) if code in list(Event) else None


def keep_mark(*, viewer: Viewer, entry: MeetEntry, result: str) -> Mark | None:
    """The mark that a result is now; the one that it was before goes. In the caller's transaction."""
    if entry.mark_id is not None:
        remove_mark(viewer=viewer, mark_id=entry.mark_id)
    run = time_run(entry.event, result)
    if run is None:
        return None
    day = entry.training_session.starts_at.astimezone(ZoneInfo(viewer.club.timezone)).date()
    return enter_mark(
        viewer=viewer, athlete_id=entry.athlete_id, event=run.event, time_ms=run.time_ms, is_hand=run.is_hand,
        wind_tenths=run.wind_tenths, run_on=day,
    )  # fmt: skip


def best_mark(*, viewer: Viewer, athlete: Person, event: str) -> str:
    """The athlete's best of this season, else of all, as the trade writes it; empty where none is known."""
    known = event_of(event)
    found = [one for one in marks_of(viewer=viewer, athlete=athlete).bests if one.event == known]
    if not found or found[0].best is None:
        return ""
    best = dict(found[0].seasons).get(viewer.today.year, found[0].best)
    return written(best.time_ms, is_hand=best.is_hand) + (BY_HAND if best.is_hand else "")
