"""The admin reads a roster file: choose it, see what it would change, answer what is asked, put it in force, undo."""

from collections import defaultdict
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.core.roster_file.table import MOST_BYTES, MOST_PEOPLE
from athletes.core.roster_file.writing import template_csv
from athletes.models import EventGroup, RosterFile
from athletes.models.accounts import Role
from athletes.selectors.known_people import place_names
from athletes.selectors.roster_files import OPEN, has_worker_left
from athletes.services.roster_files import apply_file, choose, drop_file, get_file, take_file
from athletes.services.roster_out import roster_as_csv
from athletes.services.roster_undo import undo_file
from athletes.viewer import Viewer, viewer_of
from athletes.web.roster_view import FileView
from athletes.web.step_up import proved
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

CSV = "text/csv; charset=utf-8"


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Choose a file; it is read at once."""
    viewer = _admin(request)
    if request.method != "POST":
        return _new_page(request)
    sent = request.FILES.get("file")
    try:
        if sent is None or (sent.size or 0) > MOST_BYTES:
            raise Refused("FILE_SIZE", _("Choose a CSV or XLSX file of at most 5 MB. Nothing was kept."))
        file = take_file(viewer=viewer, content=sent.read())
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _new_page(request, refusal.detail)
    return redirect("roster-file", file.pk)


@require_safe
def one(request: HttpRequest, file_id: UUID) -> HttpResponse:
    """What the file would change, and what is asked."""
    viewer = _admin(request)
    return _page(request, viewer, get_file(viewer, file_id))


@require_safe
def progress(request: HttpRequest, file_id: UUID) -> HttpResponse:
    """What the page asks for every second while the file is worked on; at the end the page itself."""
    viewer = _admin(request)
    file = get_file(viewer, file_id)
    answer = render(request, "athletes/roster_file_working.html", _context(viewer, file))
    if file.state not in OPEN:
        answer["HX-Redirect"] = reverse("roster-file", args=[file.pk])
    return answer


@require_POST
def chosen(request: HttpRequest, file_id: UUID) -> HttpResponse:
    """Keep the answers; with `then` put the file in force too, if nothing is open any more."""
    viewer = _admin(request)
    file = get_file(viewer, file_id)
    try:
        choose(viewer=viewer, file_id=file_id, options=_options(request.POST, file), rows=_rows(request.POST))
        if request.POST.get("then") == "apply":
            _apply(request, viewer, file_id)
    except Refused as refusal:
        if isinstance(refusal, NotFound):
            raise
        messages.error(request, refusal.detail)
    return redirect("roster-file", file_id)


@require_POST
def drop(request: HttpRequest, file_id: UUID) -> HttpResponse:
    """Forget the file."""
    try:
        drop_file(viewer=_admin(request), file_id=file_id)
    except Refused as refusal:
        if isinstance(refusal, NotFound):
            raise
        messages.error(request, refusal.detail)
        return redirect("roster-file", file_id)
    messages.info(request, _("The file is dropped. Nothing of it was kept."))
    return redirect("roster")


@require_POST
def undo(request: HttpRequest, file_id: UUID) -> HttpResponse:
    """Take back all that the file changed."""
    try:
        undo_file(viewer=_admin(request), file_id=file_id)
    except Refused as refusal:
        if isinstance(refusal, NotFound):
            raise
        messages.error(request, refusal.detail)
        return redirect("roster-file", file_id)
    messages.info(request, _("All that the file changed is taken back."))
    return redirect("roster")


@require_safe
@proved
def out(request: HttpRequest) -> HttpResponse:
    """The roster as CSV."""
    return _file(roster_as_csv(viewer=_admin(request)), "roster.csv")


@require_safe
def template(request: HttpRequest) -> HttpResponse:
    """The headings alone, to fill in."""
    _admin(request)
    return _file(template_csv(), "roster-to-fill-in.csv")


def _admin(request: HttpRequest) -> Viewer:
    return viewer_of(request, Role.ADMIN)


def _file(content: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type=CSV)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _new_page(request: HttpRequest, fault: str = "") -> HttpResponse:
    context = {
        "fault": fault,
        "megabytes": MOST_BYTES // 1_000_000,
        "most": MOST_PEOPLE,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/roster_file_new.html", context, status=400 if fault else 200)


def _context(viewer: Viewer, file: RosterFile) -> dict[str, object]:
    squads, groups = place_names(viewer)
    return {
        "view": FileView(file, viewer.club.country),
        "file": file,
        "is_open": file.state in OPEN,
        "is_left": has_worker_left(viewer, file),
        "squads": squads,
        "groups": groups,
        "disciplines": EventGroup.Discipline.choices,
        "acting_role": Role.ADMIN.label,
    }


def _page(request: HttpRequest, viewer: Viewer, file: RosterFile) -> HttpResponse:
    if file.state == RosterFile.State.APPLIED and request.session.pop("roster_file", "") == str(file.pk):
        count = sum(file.preview["counts"].values())
        said = ngettext("%(count)d person is in.", "%(count)d people are in.", count) % {"count": count}
        offer_undo(request, text=said, action=reverse("roster-file-undo", args=[file.pk]), fields={})
    return render(request, "athletes/roster_file.html", _context(viewer, file))


def _apply(request: HttpRequest, viewer: Viewer, file_id: UUID) -> None:
    """Only where nothing is open; a file that is read anew by what was said is shown first. The worker looks again."""
    file = get_file(viewer, file_id)
    if not FileView(file, viewer.club.country).is_complete:
        if file.state == RosterFile.State.READY:
            messages.error(request, _("Something is still open. Your answers are kept."))
        return
    apply_file(viewer=viewer, file_id=file_id)
    request.session["roster_file"] = str(file_id)


def _options(data: QueryDict, file: RosterFile) -> dict[str, object]:
    """What a form says about the whole file; a tick that the form showed and nobody set is a no."""
    said: dict[str, object] = {name: data[name] for name in ("order", "values", "back") if data.get(name)}
    for name in data.getlist("shown"):
        said[name] = name in data
    for kind in ("squad", "group"):
        names = file.preview.get(f"new_{kind}s", ())
        said[f"{kind}s"] = {
            name: data[f"{kind}-{number}"] for number, name in enumerate(names) if data.get(f"{kind}-{number}")
        }
    return said


def _rows(data: QueryDict) -> dict[str, dict[str, str]]:
    """The answers to single rows: who it is, whose values count, or both in one; and whether a visitor joins."""
    found: dict[str, dict[str, str]] = defaultdict(dict)
    for name, value in data.items():
        row = name.removeprefix("trial-")
        if row != name and row.isdigit() and isinstance(value, str):
            found[str(int(row))] |= {"trial": value}
        row = name.removeprefix("row-")
        if row != name and row.isdigit() and isinstance(value, str) and value:
            who, _colon, values = value.rpartition(":") if ":" in value else (value, "", "")
            said = {"values": who} if who in ("file", "here") else {"who": who, "values": values}
            found[str(int(row))] |= said
    return found
