"""Calendar files: choose one and what it becomes, look at what it would change, do it, take it back."""

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_GET, require_POST

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.core.calendar_files.reading import MOST_BYTES, Refusal
from sessions.models import CalendarReading
from sessions.selectors.calendar_readings import LATEST, choices_of, get_reading, may_read_files, readings_of
from sessions.services.calendar_readings import Purpose, do_reading, look_at_file, take_back_reading
from teamtrack.common.errors import Conflict, NotFound, Refused
from teamtrack.common.web.undo import offer_undo

Becomes = CalendarReading.Becomes
MOST_NAMED = 50
"""How many refused events are named one by one; of the others only how many for each reason."""
BECAUSE: dict[str, Any] = {
    Refusal.NO_START: gettext_lazy("it says no start"),
    Refusal.UNREADABLE: gettext_lazy("a time or a repeat in it cannot be read"),
    Refusal.UNKNOWN_ZONE: gettext_lazy("its time zone is not known"),
    Refusal.TOO_FINE: gettext_lazy("it repeats more often than once a day"),
    Refusal.TOO_OLD: gettext_lazy("it has repeated by days or weeks for more than 30 years"),
    Refusal.ENDS_BEFORE_START: gettext_lazy("it ends before it begins"),
    Refusal.TOO_MANY_EVENTS: gettext_lazy("the file holds more than 2,000 events"),
    Refusal.NOT_CLOSED: gettext_lazy("the file breaks off in it"),
}
WHAT = {"add": gettext_lazy("new"), "change": gettext_lazy("changed"), "cancel": gettext_lazy("off")}


class FileForm(forms.Form):
    """A file, and what its events become."""

    file = forms.FileField(label=gettext_lazy("Calendar file (.ics, at most 1 MB)"), allow_empty_file=True)
    becomes = forms.ChoiceField(label=gettext_lazy("Its events become"), widget=forms.RadioSelect)
    groups = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Meets: of which groups"),
        coerce=UUID,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    venue = forms.TypedChoiceField(
        label=gettext_lazy("Closed hours: of which venue"), coerce=UUID, required=False, empty_value=None
    )
    squad = forms.TypedChoiceField(
        label=gettext_lazy("Busy hours: of whom"), coerce=UUID, required=False, empty_value=None
    )

    def __init__(self, data: Any = None, files: Any = None, *, viewer: Viewer) -> None:
        super().__init__(data, files)
        groups, venues, squads = choices_of(viewer)
        self.fields["groups"].choices = [(str(one.pk), one.name) for one in groups]
        self.fields["venue"].choices = [("", "–"), *((str(one.pk), one.name) for one in venues)]
        self.fields["squad"].choices = [("", _("everybody")), *((str(one.pk), one.name) for one in squads)]
        all_of = Becomes.choices if viewer.role == Role.HEAD_COACH else Becomes.choices[:1]
        self.fields["becomes"].choices = all_of
        self.fields["becomes"].initial = Becomes.MEETS
        if viewer.role != Role.HEAD_COACH:
            del self.fields["venue"], self.fields["squad"]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("becomes") == Becomes.MEETS and not said.get("groups"):
            self.add_error("groups", _("Choose the groups that these meets are for."))
        if said.get("becomes") == Becomes.CLOSED and not said.get("venue"):
            self.add_error("venue", _("Choose the venue that is closed then."))
        return said

    @property
    def purpose(self) -> Purpose:
        said = self.cleaned_data
        return Purpose(said["becomes"], said["groups"], said.get("venue"), said.get("squad"))


@require_GET
def files_page(request: HttpRequest, planner: str) -> HttpResponse:
    """A file to read, and the files read before."""
    viewer = _reader(request, planner)
    return _page(request, viewer, FileForm(viewer=viewer))


def _reader(request: HttpRequest, planner: str) -> Viewer:
    viewer = viewer_of(request, planner)
    if not may_read_files(viewer):
        raise NotFound()
    return viewer


def _page(request: HttpRequest, viewer: Viewer, form: FileForm) -> HttpResponse:
    latest = list(readings_of(viewer)[:LATEST])
    shown = {
        "form": form, "readings": latest, "planner": viewer.role, "zone": viewer.club.timezone,
        "acting_role": Role(viewer.role).label,
    }  # fmt: skip
    return render(request, "sessions/calendar_files.html", shown, status=400 if form.is_bound else 200)


@require_POST
def read(request: HttpRequest, planner: str) -> HttpResponse:
    """Read a file and show what it would change; nothing changes yet."""
    viewer = _reader(request, planner)
    form = FileForm(request.POST, request.FILES, viewer=viewer)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            reading = look_at_file(
                viewer=viewer, data=file.read(MOST_BYTES + 1), file_name=file.name, purpose=form.purpose
            )
        except NotFound:
            raise
        except Refused as refusal:
            form.add_error("file", refusal.detail)
        else:
            return redirect("calendar-file", planner, reading.pk)
    return _page(request, viewer, form)


@require_GET
def reading_page(request: HttpRequest, planner: str, reading_id: UUID) -> HttpResponse:
    """What one file would change, or has changed."""
    return _reading(request, _reader(request, planner), reading_id)


def _reading(request: HttpRequest, viewer: Viewer, reading_id: UUID, fault: str = "") -> HttpResponse:
    reading = get_reading(viewer, reading_id)
    zone = ZoneInfo(viewer.club.timezone)
    refused = list(_refused(reading))
    shown = {
        "reading": reading, "changes": list(_changes(reading, zone)), "refused": refused,
        "named": refused[:MOST_NAMED],
        "planner": viewer.role, "acting_role": Role(viewer.role).label, "fault": fault, "zone": viewer.club.timezone,
        "others": Counter(str(one["because"]) for one in refused[MOST_NAMED:]).items(),
    }  # fmt: skip
    return render(request, "sessions/calendar_file.html", shown, status=409 if fault else 200)


@require_POST
def do(request: HttpRequest, planner: str, reading_id: UUID) -> HttpResponse:
    """Do what was looked at; with undo."""
    viewer = _reader(request, planner)
    try:
        reading = do_reading(viewer=viewer, reading_id=reading_id)
    except Conflict as refusal:
        return _reading(request, viewer, reading_id, refusal.detail)
    count = len(reading.changes)
    text = ngettext("%(count)d change is done.", "%(count)d changes are done.", count) % {"count": count}
    action = reverse("calendar-file-take-back", args=[planner, reading_id])
    offer_undo(request, text=text, action=action, fields={})
    return redirect("calendar-file", planner, reading_id)


@require_POST
def take_back(request: HttpRequest, planner: str, reading_id: UUID) -> HttpResponse:
    """Put back what the file changed; what somebody changed since stays."""
    stay = take_back_reading(viewer=_reader(request, planner), reading_id=reading_id)
    if stay:
        text = ngettext(
            "%(count)d stays: somebody changed it since, or is entered.",
            "%(count)d stay: somebody changed them since, or is entered.",
            stay,
        )
        messages.warning(request, text % {"count": stay})
    return redirect("calendar-file", planner, reading_id)


def _changes(reading: CalendarReading, zone: ZoneInfo) -> Iterator[dict[str, Any]]:
    for change in reading.changes:
        stands = change["after"] or change["before"]
        yield {
            "what": WHAT[change["what"]],
            "title": stands["title"] or _("without a name"),
            "before": _when(change["before"], zone),
            "after": _when(change["after"], zone),
            "place": stands["place"],
        }


def _when(said: Mapping[str, str] | None, zone: ZoneInfo) -> str:
    if said is None:
        return ""
    starts, ends = (datetime.fromisoformat(said[name]).astimezone(zone) for name in ("starts_at", "ends_at"))
    last = date_format(ends, "H:i" if ends.date() == starts.date() else "D j M H:i")
    return f"{date_format(starts, 'D j M Y H:i')}–{last}"


def _refused(reading: CalendarReading) -> Iterator[dict[str, Any]]:
    for no in reading.refused:
        yield {"number": no["number"], "title": no["title"], "because": BECAUSE[no["because"]]}
