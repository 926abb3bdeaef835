"""The paper twin of a session's page: a grid that is printed, filled by hand, and typed in by the same grid."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from athletes.core.permissions import Code
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.viewer import viewer_of
from sessions.access import LATE_SENDING, Part, get_led_session
from sessions.core.entries.shape import Entry
from sessions.core.paper import Cell
from sessions.selectors.paper_sheet import Grid, Line, get_sheet, paper_grid
from sessions.services.paper_sheets import Typed, print_sheet, take_back, type_sheet
from sessions.words import PRESENCE, SHOWN_WITHIN, session_name
from teamtrack.common.web.undo import offer_undo

OUT, RAN, STOPPED = "out", "ran", "stopped"


@dataclass(frozen=True)
class Box:
    """One cell as the page shows it: what stands there, and what was typed but not kept."""

    name: str
    stands: tuple[Entry, ...]
    words: str
    typed: str = ""


@dataclass(frozen=True)
class Shown:
    """One line as the page shows it."""

    line: Line
    point: str
    here: Box
    strides: list[tuple[int, Box]]
    words: Box
    after: str
    stop: Box
    fault: str = ""


@dataclass
class Read:
    """What a filled form says: cells, entries to take back, and lines that lack their point."""

    cells: list[Cell] = field(default_factory=list)
    out: list[str] = field(default_factory=list)
    without_point: set[int] = field(default_factory=set)


@require_POST
def new_sheet(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """Give the grid a number; the page it leads to is printed."""
    row = print_sheet(part=_part(request, session_id))
    return redirect("paper-sheet", session_id, row.number)


@require_GET
def sheet_page(request: HttpRequest, session_id: UUID, number: int) -> HttpResponse:
    """What stands on the sheet?"""
    part = _part(request, session_id)
    return _page(request, part, _grid(part, number))


@require_POST
def type_in(request: HttpRequest, session_id: UUID, number: int) -> HttpResponse:
    """Keep what was typed; what cannot be kept stays in the form with the reason."""
    part = _part(request, session_id)
    grid = _grid(part, number)
    read = _read(grid, request.POST)
    typed = type_sheet(part=part, grid=grid, cells=read.cells, out=read.out)
    if typed.new:
        count = len(typed.new)
        offer_undo(
            request,
            text=ngettext("%(count)d cell kept", "%(count)d cells kept", count) % {"count": count},
            action=reverse("paper-undo", args=[session_id, number]),
            fields={"ids": " ".join(typed.new)},
        )
    if typed.refused or read.without_point:
        return _page(request, part, _grid(part, number), typed=typed, read=read, given=request.POST)
    return redirect("paper-sheet", session_id, number)


@require_POST
def undo_typing(request: HttpRequest, session_id: UUID, number: int) -> HttpResponse:
    """Take back one typing."""
    part = _part(request, session_id)
    take_back(part=part, grid=_grid(part, number), ids=_ids(request.POST.get("ids", "")))
    return redirect("paper-sheet", session_id, number)


def _part(request: HttpRequest, session_id: UUID) -> Part:
    return get_led_session(viewer_of(request, Role.COACH), session_id)


def _grid(part: Part, number: int) -> Grid:
    return paper_grid(part=part, row=get_sheet(part=part, number=number))


def _ids(text: str) -> list[UUID]:
    found = []
    for one in text.split():
        try:
            found.append(UUID(one))
        except ValueError:
            continue
    return found


def _read(grid: Grid, given: QueryDict) -> Read:
    read = Read()
    for line in grid.lines:
        point = given.get(line.cell("point")) or (line.point.code if line.point else "")
        for name, value in _filled(line, given):
            cell = line.cell(name)
            if value == OUT:
                read.out += [one.id for one in grid.stands.get(cell, ())]
            elif (made := _cell(line, name, value, point, given)) is not None:
                read.cells.append(made)
            else:
                read.without_point.add(line.number)
    kept = given.get("keep", "")
    for stands in grid.stands.values():
        if kept in {one.id for one in stands}:
            read.out += [one.id for one in stands if one.id != kept]
    return read


def _filled(line: Line, given: QueryDict) -> Iterator[tuple[object, str]]:
    for name in ("here", *range(1, line.strides + 1), "words", "stop"):
        if value := given.get(line.cell(name), ""):
            yield name, value


def _cell(line: Line, name: object, value: str, point: str, given: QueryDict) -> Cell | None:
    """The typed cell, None where it needs a point that is not there."""
    cell, athlete = line.cell(name), str(line.athlete.pk)
    if name == "here":
        return Cell(cell, "presence", athlete, None, {"state": value})
    if name == "stop":
        return Cell(cell, "stop", athlete, None, {})
    if value == RAN and isinstance(name, int):
        return Cell(cell, "run", athlete, name, {})
    if not point:
        return None
    if isinstance(name, int):
        return Cell(cell, "observation", athlete, name, {"feature": point, "shown": value, "type": "adjustment"})
    after = given.get(line.cell("after"), "")
    own = {"feature": point, "words": value, "how": "told", "understood": "not_asked"}
    return Cell(cell, "cue", athlete, int(after) if after.isdecimal() else None, own)


def _page(
    request: HttpRequest,
    part: Part,
    grid: Grid,
    *,
    typed: Typed | None = None,
    read: Read | None = None,
    given: QueryDict | None = None,
) -> HttpResponse:
    refused = dict(typed.refused) if typed else {}
    lines = [_shown(line, grid, refused, read.without_point if read else set(), given) for line in grid.lines]
    sheet_zone = part.viewer.now.tzinfo
    context = {
        "session": part.training_session,
        "row": grid.row,
        "lines": lines,
        "columns": range(1, max((line.strides for line in grid.lines), default=0) + 1),
        "beside": list(_beside(lines, grid)),
        "points": [one for one in grid.features.values() if one.retired_on is None],
        "shown": SHOWN_WITHIN,
        "presence": {state: word for state, word in PRESENCE.items() if state != "collected"},
        "has_fault": any(line.fault for line in lines),
        "printed_on": grid.row.printed_at.astimezone(sheet_zone),
        "printed_by": grid.row.printed_by.full_name,
        "destroy_after": part.day + LATE_SENDING,
        "club": part.viewer.club,
        "acting_role": Role.COACH.label,
        "zone": part.viewer.club.timezone,
        "title": session_name(part.training_session),
    }
    return render(request, "sessions/paper.html", context, status=400 if context["has_fault"] else 200)


def _shown(line: Line, grid: Grid, refused: dict[str, str], without_point: set[int], given: QueryDict | None) -> Shown:
    def box(name: object) -> Box:
        cell = line.cell(name)
        stands = grid.stands.get(cell, ())
        is_kept = given is None or (line.number not in without_point and cell not in refused)
        words = " / ".join(_said(one, grid) for one in stands)
        return Box(cell, stands, words, "" if is_kept or given is None else given.get(cell, ""))

    codes = sorted({code for cell, code in refused.items() if cell in line.cells})
    faults = [_why(code) for code in codes]
    if line.number in without_point:
        faults.append(_("Choose the point that was looked for."))
    return Shown(
        line=line,
        point=(given or {}).get(line.cell("point"), "") or (line.point.code if line.point else ""),
        here=box("here"),
        strides=[(number, box(number)) for number in range(1, line.strides + 1)],
        words=box("words"),
        after=(given or {}).get(line.cell("after"), ""),
        stop=box("stop"),
        fault=" ".join(faults),
    )


def _why(code: str) -> str:
    return str(sentence_for(Code(code))) if code in set(Code) else _("This cannot be kept as it was typed.")


def _beside(lines: Sequence[Shown], grid: Grid) -> Iterator[dict[str, object]]:
    """The cells in which more than one stands, with what each says."""
    for shown in lines:
        boxes = [(_("Roll call"), shown.here), (_("Words"), shown.words)]
        boxes += [(_("stride %(number)d") % {"number": number}, box) for number, box in shown.strides]
        for what, box in boxes:
            if len(box.stands) > 1:
                versions = [(one.id, _said(one, grid)) for one in box.stands]
                yield {"name": shown.line.athlete.full_name, "what": what, "versions": versions}


def _said(entry: Entry, grid: Grid) -> str:
    """What an entry says, in words."""
    own = entry.own
    feature = grid.features.get(str(own.get("feature")))
    if entry.kind == "presence":
        return str(PRESENCE[str(own["state"])])
    if entry.kind == "observation":
        return f"{SHOWN_WITHIN[str(own['shown'])]} ({feature.label if feature else own['feature']})"
    if entry.kind == "cue":
        after = _("after stride %(number)d") % {"number": entry.stride} if entry.stride else ""
        return ", ".join(part for part in (f"“{own['words']}”", feature.label if feature else "", after) if part)
    return _("stopped") if entry.kind == "stop" else _("run")
