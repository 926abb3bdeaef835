"""Pages of what is written about an athlete: put it right, take it back, undo. For coaches; for athletes their own."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.core import ages
from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.effort_words import FEELS, effort_words
from sessions.models import Entry, EntryKind, Feature
from sessions.selectors.entries import UNREADABLE, entry_of, is_unreadable
from sessions.services.put_right import Written, put_right, read_entry, read_written, stand_again
from sessions.words import FOCUSES, HOW, PLACES, SHOWN_WITHIN, SIDES, TYPES, UNDERSTOOD, Label
from teamtrack.common.web.forms import TypedForm
from teamtrack.common.web.undo import offer_undo

Names = Mapping[str, Mapping[Any, Label]]
LINES = 40
KIND_NAMES: dict[str, Label] = {
    EntryKind.OBSERVATION: gettext_lazy("What a stride showed"),
    EntryKind.CUE: gettext_lazy("Words told"),
    EntryKind.OWN_VIEW: gettext_lazy("The runner's own view"),
    EntryKind.PAIN: gettext_lazy("Pain note"),
    EntryKind.FELT: gettext_lazy("How it felt"),
    EntryKind.DAY: gettext_lazy("How hard the day was"),
}
KEY_NAMES: dict[str, Label] = {
    "feature": gettext_lazy("Point"),
    "shown": gettext_lazy("What it showed"),
    "type": gettext_lazy("Said as"),
    "note": gettext_lazy("Note"),
    "words": gettext_lazy("Words"),
    "how": gettext_lazy("How it was told"),
    "focus": gettext_lazy("Attention"),
    "understood": gettext_lazy("Understood"),
    "place": gettext_lazy("Where it hurt"),
    "side": gettext_lazy("Side"),
    "effort": gettext_lazy("How hard"),
    "feel": gettext_lazy("How it felt"),
    "rpe": gettext_lazy("How hard the whole session was"),
    "minutes": gettext_lazy("Minutes"),
}
CHOICES: dict[str, Mapping[Any, Label]] = {
    "shown": SHOWN_WITHIN, "type": TYPES, "how": HOW, "focus": FOCUSES, "understood": UNDERSTOOD, "place": PLACES,
    "side": SIDES, "feel": FEELS,
}  # fmt: skip
NUMBERS = ("effort", "rpe")
KEYS: dict[str, tuple[str, ...]] = {
    EntryKind.OBSERVATION: ("feature", "shown", "type", "note"),
    EntryKind.CUE: ("feature", "words", "how", "focus", "understood"),
    EntryKind.OWN_VIEW: ("feature", "shown", "words"),
    EntryKind.PAIN: ("place", "side", "words"),
    EntryKind.FELT: ("feature", "shown", "effort", "feel", "words"),
    EntryKind.DAY: ("rpe", "minutes", "words"),
}
NEEDED = {(EntryKind.OBSERVATION, "feature"), (EntryKind.OBSERVATION, "shown"), (EntryKind.CUE, "feature"),
          (EntryKind.CUE, "words"), (EntryKind.CUE, "how"), (EntryKind.CUE, "understood"), (EntryKind.PAIN, "place"),
          (EntryKind.DAY, "rpe")}  # fmt: skip
LONGEST = {(EntryKind.CUE, "words"): 200}


@dataclass(frozen=True)
class Line:
    """One entry in words; `may_change`: there is a way to put it right here."""

    row: Entry
    name: str
    said: list[tuple[str, str]]
    by: str
    may_change: bool


class EntryForm(TypedForm):
    """What one entry says, with the keys of its kind."""

    name = "entry"

    def __init__(self, *args: Any, row: Entry, names: Names, **options: Any) -> None:
        own = entry_of(row).own
        initial = {key: own[key] for key in KEYS[row.kind] if own.get(key) is not None}
        super().__init__(*args, initial=initial, **options)
        for key in KEYS[row.kind]:
            self.fields[key] = _field(row.kind, key, names)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for key, value in given.items():
            if value == "":
                given[key] = None
            elif key in NUMBERS and value is not None:
                given[key] = int(value)
            elif isinstance(value, str):
                given[key] = value.replace("\r\n", "\n")
        if given.get("shown") and not given.get("feature"):
            self.add_error("feature", _("Choose the point that was looked for."))
        return given


def _field(kind: str, key: str, names: Names) -> forms.Field:
    is_needed, label = (kind, key) in NEEDED, KEY_NAMES[key]
    if key == "minutes":
        return forms.IntegerField(label=label, min_value=1, max_value=600, required=is_needed)
    if key in names:
        empty = [] if is_needed else [("", _("not said"))]
        return forms.ChoiceField(label=label, choices=[*empty, *names[key].items()], required=is_needed)
    most = LONGEST.get((EntryKind(kind), key), 500)
    area = forms.Textarea(attrs={"rows": 3, "autocomplete": "off"})
    return forms.CharField(label=label, max_length=most, required=is_needed, strip=False, widget=area)


@require_safe
def written_page(request: HttpRequest, role: str, athlete_id: UUID | None = None) -> HttpResponse:
    """What is written, newest first, and what a family asks to have put right."""
    viewer = viewer_of(request, role)
    written = read_written(viewer=viewer, athlete_id=athlete_id or viewer.person_id)
    page, features = Paginator(written.rows, LINES).get_page(request.GET.get("page")), _features(viewer)
    context = _context(viewer, written) | {
        "page": page,
        "lines": [_line(row, written, _names(viewer, written, row, features)) for row in page],
        "asks": written.asks,
    }
    return render(request, "sessions/written.html", context)


@require_http_methods(["GET", "POST"])
def written_entry(request: HttpRequest, role: str, entry_id: UUID, athlete_id: UUID | None = None) -> HttpResponse:
    """One entry, to be put right or taken back."""
    viewer = viewer_of(request, role)
    athlete_id = athlete_id or viewer.person_id
    written = read_entry(viewer=viewer, athlete_id=athlete_id, entry_id=entry_id)
    [row] = written.rows
    names = _names(viewer, written, row, _features(viewer))
    form = None if is_unreadable(row) else EntryForm(request.POST or None, row=row, names=names)
    if request.method == "POST" and form is not None:
        done, made = form.tried(lambda own: put_right(viewer=viewer, athlete_id=athlete_id, entry_id=entry_id, own=own))
        if done and made is not None:
            return _did(request, viewer, athlete_id, made, _("Put right"))
    context = _context(viewer, written) | {"line": _line(row, written, names), "form": form}
    return render(request, "sessions/written_entry.html", context, status=form.status if form else 200)


@require_POST
def written_back(request: HttpRequest, role: str, entry_id: UUID, athlete_id: UUID | None = None) -> HttpResponse:
    """Take an entry back."""
    viewer = viewer_of(request, role)
    athlete_id = athlete_id or viewer.person_id
    made = put_right(viewer=viewer, athlete_id=athlete_id, entry_id=entry_id, own=None)
    return _did(request, viewer, athlete_id, made, _("Taken back"))


@require_POST
def written_undo(request: HttpRequest, role: str, entry_id: UUID, athlete_id: UUID | None = None) -> HttpResponse:
    """Let stand again what a correction replaced or took back."""
    viewer = viewer_of(request, role)
    athlete_id = athlete_id or viewer.person_id
    stand_again(viewer=viewer, athlete_id=athlete_id, entry_id=entry_id)
    return redirect(_address(viewer, athlete_id, "written"))


def _did(request: HttpRequest, viewer: Viewer, athlete_id: UUID, made: UUID, text: str) -> HttpResponse:
    offer_undo(request, text=text, action=_address(viewer, athlete_id, "written-undo", made), fields={})
    return redirect(_address(viewer, athlete_id, "written"))


def _address(viewer: Viewer, athlete_id: UUID, name: str, entry_id: UUID | None = None) -> str:
    ids = [athlete_id] if viewer.role == Role.COACH else []
    return reverse(f"{viewer.role}-{name}", args=[*ids, *([entry_id] if entry_id else [])])


def _context(viewer: Viewer, written: Written) -> dict[str, object]:
    return {
        "athlete": written.athlete,
        "is_own": viewer.role == Role.ATHLETE,
        "back_at": _address(viewer, written.athlete.pk, "written"),
        "acting_role": Role(viewer.role).label,
        "zone": viewer.club.timezone,
    }


def _features(viewer: Viewer) -> dict[str, Label]:
    return {one.code: one.label for one in Feature.objects.filter(club=viewer.club_id)}


def _names(viewer: Viewer, written: Written, row: Entry, features: Mapping[str, Label]) -> Names:
    """The words for the codes of an entry; under 13 on its day effort is words alone."""
    born = written.athlete.birth_date
    day = row.training_session.starts_at.astimezone(viewer.now.tzinfo).date()
    efforts = effort_words(is_under_13=ages.is_under_13(ages.age_on(born, day) if born else None))
    return {**CHOICES, "feature": features, "effort": efforts, "rpe": efforts}


def _line(row: Entry, written: Written, names: Names) -> Line:
    own = entry_of(row).own
    said = [
        (str(KEY_NAMES[key]), str(names.get(key, {}).get(own[key], own[key])))
        for key in KEYS[row.kind]
        if own.get(key) is not None
    ]
    if is_unreadable(row):
        said = [("", str(UNREADABLE))]
    return Line(row, str(KIND_NAMES[row.kind]), said, row.by.full_name, row.pk in written.may_change)
