"""Changing a season plan: phases, each group's pattern and rules, special weeks, the day of a meet.

Every change can be tried first: "See what it does" asks the planner about every week, "Save" writes at once.
"""

from collections import Counter
from collections.abc import Mapping
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.dates import WEEKDAYS_ABBR
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from athletes.models import EventGroup, Squad
from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.access import get_season, get_training_session
from sessions.core.load_advice import taper_minutes, tapered
from sessions.core.planner.problem import DEFAULT_SEPARATION_H
from sessions.core.season_document import (
    Document,
    SeasonFault,
    split,
    stretched,
    with_phase,
    with_row,
    without_phase,
    without_row,
)
from sessions.models import Phase, SeasonPlan
from sessions.models.season import Kind
from sessions.season_words import FAULTS
from sessions.selectors.season_documents import (
    coaches_by_group,
    coaches_to_plan,
    groups_to_plan,
    has_somebody_to_taper,
    season_document,
    squads_to_plan,
    usual_policy,
    venues_to_plan,
)
from sessions.services.change_season import change_season, new_id
from sessions.services.rehearse_season import rehearse_change
from sessions.web.season import offer_season_undo, revision_of, shown
from sessions.web.season_forms import (
    PLANNED_KINDS,
    USUAL_MINUTES,
    CountsForm,
    ItemForm,
    MeetDayForm,
    ModifierForm,
    PhaseForm,
    PolicyForm,
    policy_initial,
    policy_of,
)
from sessions.week_words import kind_words
from teamtrack.common import words
from teamtrack.common.errors import NotFound, Refused


class Editing:
    """One request about one season: who, which, and the document that the page is about."""

    def __init__(self, request: HttpRequest, season_id: UUID) -> None:
        self.request = request
        self.viewer: Viewer = viewer_of(request, Role.HEAD_COACH)
        self.season: SeasonPlan = get_season(self.viewer, season_id)
        self.document: Document = season_document(season=self.season)

    def row(self, name: str, row_id: UUID) -> dict[str, Any]:
        """A row of the document; one that is not there is no page."""
        found = next((row for row in self.document[name] if row["id"] == str(row_id)), None)
        if found is None:
            raise NotFound()
        return found

    def group(self, group_id: UUID) -> EventGroup:
        found = next((group for group in groups_to_plan(viewer=self.viewer) if group.pk == group_id), None)
        if found is None:
            raise NotFound()
        return found

    def done(self, wanted: Document, back: HttpResponse) -> HttpResponse:
        """Write what is wanted, or try it first. Raises Refused where somebody was faster."""
        told = {"viewer": self.viewer, "season_id": self.season.pk, "revision": revision_of(self.request)}
        if "save" not in self.request.POST:
            asked = rehearse_change(wanted=wanted, **told)
            return redirect("season-change", self.season.pk, asked.pk)
        step = change_season(wanted=wanted, **told)
        offer_season_undo(self.request, self.season.pk, str(step.pk), step.revision)
        return back

    def page(
        self, template: str, context: Mapping[str, Any], *, refusal: Refused | None, is_wrong: bool
    ) -> HttpResponse:
        """A page of the season; what was typed stays, for the season as it stands now."""
        self.season.refresh_from_db()
        status = refusal.status if refusal else 400 if is_wrong else 200
        told = {"season": self.season, "refusal": refusal, **context}
        return render(self.request, f"sessions/season/{template}.html", told, status=status)


def _refused(fault: SeasonFault) -> Refused:
    return Refused("CHECK_FIELDS", str(words.CHECK_FIELDS), fields={"weeks": [str(FAULTS[fault.fault])]})


@require_http_methods(["GET", "POST"])
def phase_page(request: HttpRequest, season_id: UUID, phase_id: UUID | None = None) -> HttpResponse:
    """A phase: rename, reshape, cut in two, take out; without an id a new one."""
    editing = Editing(request, season_id)
    phase = editing.row("phases", phase_id) if phase_id else None
    form = PhaseForm(request.POST or None, initial=phase or {"aim": "general"})
    refusal = None
    if request.method == "POST" and (_acts_on_phase(request) or form.is_valid()):
        try:
            wanted = _changed_phase(request, editing.document, phase, form)
            return editing.done(wanted, redirect("season-of", season_id))
        except SeasonFault as fault:
            refusal = _refused(fault)
        except Refused as refused:
            refusal = shown(refused)
    if _acts_on_phase(request):
        form = PhaseForm(initial=phase)
    context = {
        "form": form,
        "phase": phase,
        "phase_name": phase and (phase["name"] or Phase.Aim(phase["aim"]).label),
        "aims": Phase.Aim.choices,
        "is_taper": phase is not None and phase["aim"] == "taper",
    }
    return editing.page("phase", context, refusal=refusal, is_wrong=bool(form.errors))


def _usual_slot(row: Mapping[str, Any]) -> str:
    """ "Sun 10:00"; nothing where any day will do."""
    day = WEEKDAYS_ABBR[row["usual_weekday"] - 1] if row["usual_weekday"] else ""
    return " ".join(filter(None, (str(day), row["usual_from"])))


def _acts_on_phase(request: HttpRequest) -> bool:
    return "out" in request.POST or "cut" in request.POST


def _changed_phase(
    request: HttpRequest, document: Document, phase: Mapping[str, Any] | None, form: PhaseForm
) -> Document:
    if phase is None:
        return with_phase(document, {"id": new_id()} | form.cleaned_data)
    if "out" in request.POST:
        return without_phase(document, phase["id"])
    if "cut" in request.POST:
        text = request.POST.get("cut_week", "")
        week = int(text) if text.isascii() and text.isdecimal() and len(text) < 4 else 0
        wanted = request.POST.get("cut_aim", "")
        aim = wanted if wanted in Phase.Aim.values else phase["aim"]
        return split(document, phase["id"], week, new_id, aim=aim)
    given = form.cleaned_data
    named = with_row(document, "phases", {**phase, "aim": given["aim"], "name": given["name"]})
    return stretched(named, phase["id"], given["first_week"], given["last_week"])


@require_http_methods(["GET", "POST"])
def group_page(request: HttpRequest, season_id: UUID, phase_id: UUID, group_id: UUID) -> HttpResponse:
    """A group's week in a phase: how many of each kind, its rules, and a taper's reduction where it is offered."""
    editing = Editing(request, season_id)
    phase, group = editing.row("phases", phase_id), editing.group(group_id)
    rows = _own_rows(editing.document, phase, group)
    rule = _rule(editing.document, phase, group)
    counts = Counter(row["kind"] for row in rows)
    forms = {
        "counts": CountsForm(
            request.POST if "counts" in request.POST else None,
            initial={kind.value: counts[kind.value] for kind in PLANNED_KINDS},
        ),
        "policy": PolicyForm(
            request.POST if "policy" in request.POST else None,
            initial=policy_initial(rule["style"] if rule else "usual", rule["policy"] if rule else {}),
        ),
    }
    refusal, bound = None, [form for form in forms.values() if form.is_bound]
    if request.method == "POST" and all(form.is_valid() for form in bound):
        try:
            back = redirect("season-group", season_id, phase_id, group_id)
            return editing.done(_changed_group(request, editing, phase, group, forms), back)
        except Refused as refused:
            refusal = shown(refused)
    context = {"phase": phase, "group": group, **forms, **_told_of(editing, phase, group)}
    return editing.page("group", context, refusal=refusal, is_wrong=any(form.errors for form in bound))


def _told_of(editing: Editing, phase: Mapping[str, Any], group: EventGroup) -> dict[str, Any]:
    """The group's sessions in words, their minutes, and what a taper would leave of those of the phase before."""
    rows = _own_rows(editing.document, phase, group)
    minutes = sum(row["duration_min"] for row in rows)
    before = [row for row in editing.document["phases"] if row["last_week"] == phase["first_week"] - 1]
    usual = sum(row["duration_min"] for one in before for row in _own_rows(editing.document, one, group)) or minutes
    span = taper_minutes(usual)
    return {
        "rows": [row | {"words": kind_words(row["kind"], row["also"]), "usual": _usual_slot(row)} for row in rows],
        "phase_name": phase["name"] or dict(Phase.Aim.choices)[phase["aim"]],
        "minutes": minutes,
        "usual": usual,
        "is_reduced": minutes <= span.most,
        "is_taper": _has_taper(editing, phase, group),
        "taper_most": int(span.most),
        "taper_least": int(span.least),
    }


def _has_taper(editing: Editing, phase: Mapping[str, Any], group: EventGroup) -> bool:
    """The published reduction is for adults and older juniors: a group of younger ones alone is offered none."""
    return phase["aim"] == "taper" and has_somebody_to_taper(viewer=editing.viewer, group=group)


def _changed_group(
    request: HttpRequest, editing: Editing, phase: Mapping[str, Any], group: EventGroup, forms: Mapping[str, Any]
) -> Document:
    if "taper" in request.POST:
        if not _has_taper(editing, phase, group):
            raise Refused("NO_TAPER", _("A taper's reduction is not offered here. Nothing was changed."))
        rows = _own_rows(editing.document, phase, group)
        wanted = editing.document
        for row in rows:
            wanted = with_row(wanted, "patterns", row | {"duration_min": tapered(row["duration_min"])})
        return wanted
    if "policy" in request.POST:
        return _with_rule(editing, phase, group, forms["policy"].cleaned_data)
    return _with_counts(editing, phase, group, forms["counts"].counts)


def _with_counts(editing: Editing, phase: Mapping[str, Any], group: EventGroup, counts: Mapping[str, int]) -> Document:
    """So many of each kind: what is missing is made like the last of its kind, what is too much goes from the end."""
    wanted, rows = editing.document, _own_rows(editing.document, phase, group)
    for kind, number in counts.items():
        own = [row for row in rows if row["kind"] == kind]
        for row in own[number:]:
            wanted = without_row(wanted, "patterns", row["id"])
        model = own[-1] if own else _plain_row(editing, phase, group, kind)
        for step in range(number - len(own)):
            order = 1 + max((row["order"] for row in rows), default=0) + step
            wanted = with_row(
                wanted, "patterns", model | {"id": new_id(), "order": order, "usual_weekday": None} | NO_SLOT
            )
    return wanted


NO_SLOT = {"usual_from": None, "usual_until": None}


def _plain_row(editing: Editing, phase: Mapping[str, Any], group: EventGroup, kind: str) -> dict[str, Any]:
    venues = [str(venue.pk) for venue in venues_to_plan(viewer=editing.viewer)]
    coaches = coaches_by_group(viewer=editing.viewer).get(group.pk, [])
    return {
        "id": "", "phase": phase["id"], "group": str(group.pk), "kind": kind, "also": [], "duration_min": USUAL_MINUTES,
        "priority": 3 if kind == Kind.TECHNIQUE else 2, "lanes": 2, "observers": 1, "order": 1, "usual_weekday": None,
        "venues": sorted(venues), "coaches": sorted(coaches), "qualified": [],
    } | NO_SLOT  # fmt: skip


def _with_rule(editing: Editing, phase: Mapping[str, Any], group: EventGroup, given: Mapping[str, Any]) -> Document:
    old = _rule(editing.document, phase, group)
    if given["style"] == "usual":
        return without_row(editing.document, "policies", old["id"]) if old else editing.document
    usual = usual_policy(viewer=editing.viewer, group=group)
    own = policy_of(given, usual.get("separation_h", DEFAULT_SEPARATION_H)) if given["style"] == "own" else {}
    row = {"id": old["id"] if old else new_id(), "phase": phase["id"], "group": str(group.pk)}
    return with_row(editing.document, "policies", row | {"style": given["style"], "policy": own})


def _own_rows(document: Document, phase: Mapping[str, Any], group: EventGroup) -> list[dict[str, Any]]:
    return [row for row in document["patterns"] if (row["phase"], row["group"]) == (phase["id"], str(group.pk))]


def _rule(document: Document, phase: Mapping[str, Any], group: EventGroup) -> dict[str, Any] | None:
    rows = (row for row in document["policies"] if (row["phase"], row["group"]) == (phase["id"], str(group.pk)))
    return next(rows, None)


@require_http_methods(["GET", "POST"])
def item_page(request: HttpRequest, season_id: UUID, item_id: UUID) -> HttpResponse:
    """One session of a pattern: kind, minutes, usual slot, venues, coaches."""
    editing = Editing(request, season_id)
    row = editing.row("patterns", item_id)
    group = editing.group(UUID(row["group"]))
    lists = {"venues": venues_to_plan(viewer=editing.viewer), "coaches": coaches_to_plan(viewer=editing.viewer)}
    initial = row | {"also": row["also"][0] if row["also"] else ""}
    form = ItemForm(request.POST if request.POST and "out" not in request.POST else None, initial=initial, **lists)
    refusal = None
    if request.method == "POST" and ("out" in request.POST or form.is_valid()):
        try:
            is_out = "out" in request.POST
            wanted = without_row(editing.document, "patterns", row["id"]) if is_out else _with_item(editing, row, form)
            return editing.done(wanted, redirect("season-group", season_id, row["phase"], row["group"]))
        except Refused as refused:
            refusal = shown(refused)
    name = f"{group.name} {kind_words(row['kind'], row['also'])}"
    context = {"form": form, "row": row, "group": group, "name": name}
    return editing.page("item", context, refusal=refusal, is_wrong=bool(form.errors))


def _with_item(editing: Editing, row: Mapping[str, Any], form: ItemForm) -> Document:
    given = form.cleaned_data
    times = {name: given[name].isoformat("minutes") if given[name] else None for name in NO_SLOT}
    lists = {"venues": sorted(given["venues"]), "coaches": sorted(given["coaches"])}
    also = [given["also"]] if given["also"] else []
    kept = [one for one in row["qualified"] if one in given["coaches"]]
    return with_row(editing.document, "patterns", {**row, **given, **times, **lists, "also": also, "qualified": kept})


@require_http_methods(["GET", "POST"])
def week_page(request: HttpRequest, season_id: UUID, number: int) -> HttpResponse:
    """What is special about a week: exams, a holiday, a camp, travel."""
    editing = Editing(request, season_id)
    if not 1 <= number <= editing.season.weeks:
        raise NotFound()
    squads = squads_to_plan(viewer=editing.viewer)
    form = ModifierForm(request.POST if request.POST and "out" not in request.POST else None, squads=squads)
    refusal = None
    if request.method == "POST" and ("out" in request.POST or form.is_valid()):
        try:
            wanted = _with_modifier(request, editing, number, form)
            return editing.done(wanted, redirect("season-week", season_id, number))
        except SeasonFault as fault:
            refusal = _refused(fault)
        except Refused as refused:
            refusal = shown(refused)
    monday = editing.season.first_monday + timedelta(weeks=number - 1)
    context = {
        "form": form, "number": number, "rows": _modifier_lines(editing, squads, number), "monday": monday,
        "sunday": monday + timedelta(days=6),
    }  # fmt: skip
    return editing.page("week", context, refusal=refusal, is_wrong=bool(form.errors))


def _with_modifier(request: HttpRequest, editing: Editing, number: int, form: ModifierForm) -> Document:
    if "out" in request.POST:
        return without_row(editing.document, "modifiers", request.POST["out"])
    given, wanted = form.cleaned_data, editing.document
    last = min(given["last_week"] or number, editing.season.weeks)
    days = {name: given[name].isoformat() if given[name] else None for name in ("born_from", "born_until")}
    for week in range(number, max(last, number) + 1):
        row = {"id": new_id(), "week": week, "reason": given["reason"], "squad": given["squad"] or None}
        wanted = with_row(wanted, "modifiers", row | days | {"most_sessions": given["most_sessions"]})
    return wanted


def _modifier_lines(editing: Editing, squads: list[Squad], number: int) -> list[dict[str, Any]]:
    names = {str(squad.pk): squad.name for squad in squads}
    reasons = dict(ModifierForm.base_fields["reason"].choices)
    return [
        row | {"words": reasons[row["reason"]], "squad_name": names.get(row["squad"] or "", "")}
        for row in editing.document["modifiers"]
        if row["week"] == number
    ]


@require_http_methods(["GET", "POST"])
def meet_page(request: HttpRequest, season_id: UUID, session_id: UUID) -> HttpResponse:
    """Move a meet to another day: what that does to every week comes first."""
    editing = Editing(request, season_id)
    meet = get_training_session(editing.viewer, session_id)
    if meet.kind != Kind.MEET:
        raise NotFound()
    day = meet.starts_at.astimezone(editing.viewer.now.tzinfo).date()
    form = MeetDayForm(request.POST or None, initial={"day": day})
    refusal = None
    if form.is_valid():
        wanted = editing.document | {"meets": [{"id": str(meet.pk), "day": form.cleaned_data["day"].isoformat()}]}
        try:
            return editing.done(wanted, redirect("season-of", season_id))
        except Refused as refused:
            refusal = shown(refused)
    name = meet.title or _("Meet")
    return editing.page("meet", {"form": form, "name": name}, refusal=refusal, is_wrong=bool(form.errors))
