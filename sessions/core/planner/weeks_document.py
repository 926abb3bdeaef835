"""The part of a season's document that matters to some of its demands, as a document of its own."""

from __future__ import annotations

import datetime
from collections.abc import Collection
from typing import Any

from sessions.core.planner.changes import Document
from sessions.core.planner.local_time import read_instant
from sessions.core.planner.problem import Span
from sessions.core.planner.weeks import Weeks

# Where rows keep spans that end somewhere: only those near the part are kept.
_SPANS = (("athletes", "unavailable"), ("coaches", "available"), ("venues", "open"))


def document_of_weeks(document: Document, weeks: Weeks, demands: Collection[str]) -> tuple[Document, Span]:
    """These demands with the fixed items near them, the horizon cut to the ISO weeks of their windows; and the span of
    all that is kept. A document without faults has none afterwards either."""
    problem, local = weeks.problem, weeks.local
    spans = [window for name in demands for window in problem.demands[name].windows]
    around = Span(min(span.start for span in spans), max(span.end for span in spans))
    near = weeks.near(around)
    first = max(problem.first_day.toordinal(), 7 * local.week(around.start) + 1)
    last = min(problem.first_day.toordinal() + problem.days, 7 * local.week(around.end - 1) + 8)
    found = dict(document)
    found["horizon"] = {"first_day": datetime.date.fromordinal(first).isoformat(), "days": last - first}
    found["demands"] = [row for row in document["demands"] if row["id"] in demands]
    found["fixed"] = [row for row in document["fixed"] if _meets(near, row)]
    found["current"] = [row for row in document.get("current", ()) if row["demand"] in demands]
    for name, field in _SPANS:
        found[name] = [_with_spans_near(row, field, near) for row in document[name]]
    return found, near


def _with_spans_near(row: dict[str, Any], field: str, near: Span) -> dict[str, Any]:
    return row if field not in row else row | {field: [span for span in row[field] if _meets(near, span)]}


def _meets(near: Span, row: dict[str, Any]) -> bool:
    return near.meets(read_instant(row["start"]), read_instant(row["end"]))
