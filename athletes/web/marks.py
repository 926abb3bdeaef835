"""Marks of an athlete for coaches of the group and the head coach: shown, typed, taken away, read from a file."""

from datetime import date
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST

from athletes.access import get_athlete
from athletes.core.marks import Event, TimeFault, read_time, read_wind
from athletes.core.marks_file import FileFault, MarksFile, RowFault, read_marks
from athletes.core.roster_file.dates import Order, order_of
from athletes.core.roster_file.faults import FileRefused
from athletes.core.roster_file.text_table import decode
from athletes.event_words import event_words
from athletes.models import Mark, Person
from athletes.models.accounts import Role
from athletes.selectors.marks import marks_of
from athletes.services.marks import FilePreview, apply_file, enter_mark, preview_file, remove_mark
from athletes.viewer import Viewer, viewer_of
from teamtrack.common.errors import Refused
from teamtrack.common.web.forms import DayField, TypedForm
from teamtrack.common.web.undo import offer_undo

LARGEST = 500_000
LONGEST_S = 3600
SALT = "marks-file"
HAND, ELECTRONIC = "hand", "electronic"
FILE_FAULTS: dict[FileFault, str | Promise] = {
    FileFault.EMPTY: gettext_lazy("The file holds no row: is it a CSV file with a line of headings?"),
    FileFault.NO_NAME: gettext_lazy("No column is headed name, or given name and family name."),
    FileFault.NO_COLUMN: gettext_lazy("A column is missing: event, time and date are needed."),
    FileFault.BROKEN: gettext_lazy("This is no CSV file, or it is damaged. Save the sheet as CSV and read it again."),
    FileFault.TOO_MANY_ROWS: gettext_lazy("Too many rows: 2,000 at most. Read it in parts."),
}
ROW_FAULTS: dict[RowFault, str | Promise] = {
    RowFault.NO_NAME: gettext_lazy("no name stands there"),
    RowFault.EVENT: gettext_lazy("event “%(cell)s” is not known: 100 m, 1500 m, 110 m hurdles"),
    RowFault.TIME: gettext_lazy("time “%(cell)s” cannot be read: 12.64 or 2:05.3"),
    RowFault.TIMING: gettext_lazy("timing “%(cell)s”: hand or electronic"),
    RowFault.WIND: gettext_lazy("wind “%(cell)s” cannot be read: +1.3"),
    RowFault.DAY: gettext_lazy("date “%(cell)s” is no day here: write it as 2027-05-08"),
    RowFault.DAY_TO_COME: gettext_lazy("date “%(cell)s” lies in the future"),
    RowFault.LONG_AGO: gettext_lazy("date “%(cell)s” is more than a hundred years ago"),
}


class MarkForm(TypedForm):
    """One mark as somebody types it."""

    name = "mark"
    event = forms.ChoiceField(label=gettext_lazy("Event"))
    time = forms.CharField(label=gettext_lazy("Time"), max_length=12, help_text=gettext_lazy("12.64 or 2:05.3"))
    timing = forms.ChoiceField(
        label=gettext_lazy("How it was timed"), initial=ELECTRONIC,
        choices=[(ELECTRONIC, gettext_lazy("electronic")), (HAND, gettext_lazy("by hand"))],
    )  # fmt: skip
    wind = forms.CharField(
        label=gettext_lazy("Wind"), max_length=6, required=False,
        help_text=gettext_lazy("Metres a second, +1.3 from behind; up to 200 m and hurdles on the straight."),
    )  # fmt: skip
    run_on = DayField(label=gettext_lazy("Day"))

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)
        self.fields["event"].choices = [(event.value, event_words(event)) for event in Event]

    def clean_time(self) -> int:
        try:
            return read_time(self.cleaned_data["time"])
        except TimeFault:
            raise forms.ValidationError(_("Write seconds as 12.64, or minutes and seconds as 2:05.3.")) from None

    def clean_wind(self) -> int | None:
        try:
            return read_wind(self.cleaned_data["wind"])
        except TimeFault:
            raise forms.ValidationError(_("Write the wind as +1.3 or -0.4, or leave it empty.")) from None


class FileForm(TypedForm):
    """A file of marks."""

    name = "marks-file"
    file = forms.FileField(label=gettext_lazy("CSV file"), widget=forms.FileInput(attrs={"accept": ".csv,text/csv"}))

    def clean_file(self) -> str:
        file = self.cleaned_data["file"]
        if file.size > LARGEST:
            raise forms.ValidationError(_("The file is too large: half a megabyte at most."))
        try:
            return decode(file.read())
        except FileRefused:
            raise forms.ValidationError(_("The file is no text. Save it as CSV and read it again.")) from None


class MarkIdForm(forms.Form):
    """Which mark."""

    mark = forms.UUIDField()


@require_http_methods(["GET", "POST"])
def marks_page(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """What did this athlete run, and what is the best?"""
    viewer = viewer_of(request, role)
    athlete = get_athlete(viewer, athlete_id)
    form = MarkForm(request.POST or None, initial={"run_on": viewer.today, "event": Event.M100.value})
    if request.method == "POST":
        done, mark = form.tried(
            lambda given: enter_mark(
                viewer=viewer, athlete_id=athlete_id, event=given["event"], time_ms=given["time"],
                is_hand=given["timing"] == HAND, wind_tenths=given["wind"], run_on=given["run_on"],
            )
        )  # fmt: skip
        if done and mark is not None:
            text = _("%(event)s is kept.") % {"event": event_words(mark.event)}
            offer_undo(
                request, text=text, action=_place("mark-remove", role, athlete_id), fields={"mark": str(mark.pk)}
            )
            return redirect(request.path)
    return _page(request, viewer, athlete, form)


@require_POST
def remove(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """Take a mark away, and offer to put it back."""
    viewer = viewer_of(request, role)
    form = MarkIdForm(request.POST)
    get_athlete(viewer, athlete_id)
    if not form.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    mark = remove_mark(viewer=viewer, mark_id=form.cleaned_data["mark"])
    text = _("%(event)s is taken away.") % {"event": event_words(mark.event)}
    offer_undo(request, text=text, action=_place("marks", role, athlete_id), fields=_fields(mark))
    return redirect(_place("marks", role, athlete_id))


@require_http_methods(["GET", "POST"])
def from_file(request: HttpRequest, role: str) -> HttpResponse:
    """Read marks from a file: first what it holds, then all of it or nothing."""
    viewer = viewer_of(request, role)
    form = FileForm(request.POST or None, request.FILES or None)
    if request.method == "GET":
        form = FileForm()
        preview_file(viewer=viewer, rows=())
        return _file_page(request, viewer, form, None, "")
    if "text" in request.POST:
        return _signed(request, viewer)
    if not form.is_valid():
        form.status = Refused.status
        return _file_page(request, viewer, form, None, "")
    found = read_marks(form.cleaned_data["file"], today=viewer.today)
    if found.fault is not None:
        form.add_error("file", str(FILE_FAULTS[found.fault]))
        form.status = Refused.status
        return _file_page(request, viewer, form, None, "")
    return _file_page(request, viewer, form, found, form.cleaned_data["file"])


def _signed(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """The file as it was shown, signed: shown once more with the order of day and month, or taken over whole."""
    try:
        text = str(signing.loads(request.POST["text"], salt=f"{SALT}-{viewer.person_id}", max_age=LONGEST_S))
    except signing.BadSignature:
        raise Refused("CHECK_FIELDS", _("This page is out of date: read the file again. Nothing was kept.")) from None
    said = request.POST.get("order", "")
    found = read_marks(text, today=viewer.today, order=Order(said) if said in set(Order) else None)
    if request.POST.get("then") == "look" or found.two_ways:
        return _file_page(request, viewer, FileForm(), found, text, order=said)
    number = apply_file(viewer=viewer, rows=found.rows)
    kept = ngettext("%(n)d mark is kept.", "%(n)d marks are kept.", number) % {"n": number}
    messages.success(request, kept)
    return redirect(_place("athletes", viewer.role))


def _file_page(
    request: HttpRequest, viewer: Viewer, form: FileForm, found: MarksFile | None, text: str, order: str = ""
) -> HttpResponse:
    preview = preview_file(viewer=viewer, rows=found.rows) if found else None
    faults = _faults(found, preview) if found and preview else []
    context = {
        "form": form,
        "preview": preview,
        "faults": faults,
        "two_ways": found.two_ways if found and not faults else (),
        "orders": _orders(found, viewer) if found else [],
        "order": order,
        "signed": signing.dumps(text, salt=f"{SALT}-{viewer.person_id}", compress=True) if preview else "",
        "acting_role": Role(viewer.role).label,
    }
    return render(request, "athletes/marks_file.html", context, status=Refused.status if faults else form.status)


def _orders(found: MarksFile, viewer: Viewer) -> list[tuple[str, date]]:
    """The two ways to read the first day that could be two, the club's own first."""
    if not found.two_ways:
        return []
    first = order_of(viewer.club.country)
    return [(order.value, found.two_ways[0].days[order]) for order in sorted(Order, key=lambda one: one != first)]


def _faults(found: MarksFile, preview: FilePreview) -> list[tuple[int, str, str]]:
    """Row by row what cannot be taken: its number, the cell as a spreadsheet names it or the row, and why."""
    told = [(bad.number, bad.place, str(ROW_FAULTS[bad.fault]) % {"cell": bad.cell}) for bad in found.bad]
    nobody = _("“%(name)s” is nobody whose marks you enter")
    several = _("“%(name)s” is the name of several athletes: type this mark by hand")
    whole = [(row, nobody % {"name": row.name}) for row in preview.nobody]
    whole += [(row, several % {"name": row.name}) for row in preview.several]
    whole += [(row, _("the date lies ahead, or too far back")) for row in preview.undated]
    return sorted(told + [(row.number, _("Row %(row)d") % {"row": row.number}, why) for row, why in whole])


def _page(request: HttpRequest, viewer: Viewer, athlete: Person, form: MarkForm) -> HttpResponse:
    context = {
        "athlete": athlete,
        "marks": marks_of(viewer=viewer, athlete=athlete),
        "form": form,
        "athlete_page": _place("athlete", viewer.role, athlete.pk),
        "file_page": _place("marks-file", viewer.role),
        "remove_place": _place("mark-remove", viewer.role, athlete.pk),
        "acting_role": Role(viewer.role).label,
    }
    return render(request, "athletes/marks.html", context, status=form.status)


def _place(what: str, role: str, *args: object) -> str:
    return reverse(f"{role.replace('_', '-')}-{what}", args=args)


def _fields(mark: Mark) -> dict[str, str]:
    """A mark as its form posts it, for putting it back: the time to the thousandth."""
    seconds, ms = divmod(mark.time_ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    wind = "" if mark.wind_tenths is None else f"{mark.wind_tenths / 10:+.1f}"
    return {
        "event": mark.event, "time": f"{minutes}:{seconds:02}.{ms:03}", "wind": wind, "run_on": str(mark.run_on),
        "timing": HAND if mark.is_hand else ELECTRONIC,
    }  # fmt: skip
