"""Squads and event groups: named and put in order, athletes in and out, age groups moved, a group handed over."""

from datetime import date
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.core.age_groups import EVERYBODY_OLDER
from athletes.models import EventGroup, PeopleStep
from athletes.models.accounts import Role
from athletes.selectors.groups import (
    GroupPage,
    RollOverRule,
    group_page,
    groups_overview,
    latest_steps,
    roll_over_preview,
)
from athletes.services.groups import (
    apply_roll_over,
    hand_over_group,
    put_in_group,
    save_group,
    save_squad,
    take_out_of_group,
)
from athletes.viewer import Viewer, viewer_of
from athletes.web.steps import did
from teamtrack.common.errors import Refused
from teamtrack.common.web.forms import DayField, TypedForm

What = PeopleStep.What
HANDED = (What.PLACED, What.ROLLED, What.HANDED)


class SquadForm(TypedForm):
    """A squad: its name, its place in the order, its bound if it is an age group."""

    name = "squad"
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    squad_name = forms.CharField(label=gettext_lazy("Name of the squad"), max_length=60)
    under = forms.IntegerField(
        label=gettext_lazy("Athletes under this age"), min_value=6, max_value=EVERYBODY_OLDER, required=False,
        help_text=gettext_lazy("14 for under 14; 99 for everybody older; empty where it is no age group."),
    )  # fmt: skip
    order = forms.IntegerField(label=gettext_lazy("Place in the list"), min_value=1, max_value=99, initial=1)


class GroupForm(TypedForm):
    """An event group: its name, what it runs, its place in the order."""

    name = "group"
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    group_name = forms.CharField(label=gettext_lazy("Name of the event group"), max_length=60)
    discipline = forms.ChoiceField(label=gettext_lazy("What it trains"), choices=EventGroup.Discipline.choices)
    order = forms.IntegerField(label=gettext_lazy("Place in the list"), min_value=1, max_value=99, initial=1)


class PersonChoice(forms.ChoiceField):
    """Somebody of a list that the page shows."""

    def __init__(self, **options: Any) -> None:
        errors = {
            "invalid_choice": gettext_lazy("Choose somebody of the list."),
            "required": gettext_lazy("Choose who."),
        }
        super().__init__(error_messages=errors, **options)

    def valid_value(self, value: str) -> bool:
        """Whoever is meant: the door says whether they are there, also where a form is sent a second time."""
        try:
            return bool(UUID(value))
        except ValueError:
            return False


class PutInForm(TypedForm):
    """Who trains in the group from which day on."""

    name = "put-in"
    athlete = PersonChoice(label=gettext_lazy("Who"))
    from_day = DayField(label=gettext_lazy("From which day"))

    def __init__(self, *args: Any, page: GroupPage, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["athlete"].choices = [(str(one.pk), one.full_name) for one in page.others]


class TakeOutForm(TypedForm):
    """Who trains in the group up to which day."""

    name = "take-out"
    athlete = PersonChoice(label=gettext_lazy("Who"))
    last_day = DayField(label=gettext_lazy("Last day in the group"))

    def __init__(self, *args: Any, page: GroupPage, **options: Any) -> None:
        super().__init__(*args, **options)
        staying = {one.person.pk: one.person for one in page.members}
        self.fields["athlete"].choices = [(str(one.pk), one.full_name) for one in staying.values()]


class HandOverForm(TypedForm):
    """From whom to whom, from which day on."""

    name = "hand-over"
    from_coach = PersonChoice(label=gettext_lazy("From"))
    to_coach = PersonChoice(label=gettext_lazy("To"))
    from_day = DayField(label=gettext_lazy("The new coach's first day"))

    def __init__(self, *args: Any, page: GroupPage, **options: Any) -> None:
        super().__init__(*args, **options)
        having = {one.person.pk: one.person for one in page.coaches}
        others = [one for one in page.could_take_over if {one.pk} != having.keys()]
        self.fields["from_coach"].choices = [(str(one.pk), one.full_name) for one in having.values()]
        self.fields["to_coach"].choices = [("", _("Choose")), *((str(one.pk), one.full_name) for one in others)]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("to_coach") and given["to_coach"] == given.get("from_coach"):
            self.add_error("to_coach", _("Choose another coach than the one who has the group."))
        return given


class RuleForm(TypedForm):
    """On which day age groups move, and on which day age is counted."""

    name = "rule"
    day = DayField(label=gettext_lazy("Move on"), help_text=gettext_lazy("Often 1 January or 1 September."))
    counted_on = DayField(
        label=gettext_lazy("Age is counted on"),
        help_text=gettext_lazy("31 December: by year of birth. The day of the move: by age on that day."),
    )


@require_safe
def overview(request: HttpRequest, role: str) -> HttpResponse:
    """Which squads and groups are there, and who coaches them?"""
    return _overview(request, viewer_of(request, role))


@require_POST
def squad(request: HttpRequest) -> HttpResponse:
    """Add or change a squad."""
    viewer = viewer_of(request, Role.ADMIN)
    form = SquadForm(request.POST)
    done, _row = form.tried(
        lambda given: save_squad(
            viewer=viewer, squad_id=given["id"], name=given["squad_name"], order=given["order"], under=given["under"]
        )
    )
    return _saved(request) if done else _overview(request, viewer, squad=form)


@require_POST
def group(request: HttpRequest) -> HttpResponse:
    """Add or change an event group."""
    viewer = viewer_of(request, Role.ADMIN)
    form = GroupForm(request.POST)
    done, _row = form.tried(
        lambda given: save_group(
            viewer=viewer, group_id=given["id"], name=given["group_name"], order=given["order"],
            discipline=given["discipline"],
        )
    )  # fmt: skip
    return _saved(request) if done else _overview(request, viewer, group=form)


@require_safe
def one_group(request: HttpRequest, role: str, group_id: UUID) -> HttpResponse:
    """Who is in this group, and who coaches it?"""
    viewer = viewer_of(request, role)
    return _group(request, viewer, group_page(viewer, group_id))


@require_POST
def put_in(request: HttpRequest, role: str, group_id: UUID) -> HttpResponse:
    """Somebody trains in the group from a day on."""
    viewer = viewer_of(request, role)
    page = group_page(viewer, group_id)
    form = PutInForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: put_in_group(
            viewer=viewer, athlete_id=UUID(given["athlete"]), group_id=group_id, from_day=given["from_day"]
        )
    )
    if not done:
        return _group(request, viewer, page, put_in=form)
    said = _("In %(group)s from %(day)s.") % _said(page, form.cleaned_data["from_day"])
    return did(request, step, said=said, role=role, back=_address("group", role, group_id))


@require_POST
def take_out(request: HttpRequest, role: str, group_id: UUID) -> HttpResponse:
    """Somebody trains in the group up to a day."""
    viewer = viewer_of(request, role)
    page = group_page(viewer, group_id)
    form = TakeOutForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: take_out_of_group(
            viewer=viewer, athlete_id=UUID(given["athlete"]), group_id=group_id, last_day=given["last_day"]
        )
    )
    if not done:
        return _group(request, viewer, page, take_out=form)
    said = _("In %(group)s until %(day)s.") % _said(page, form.cleaned_data["last_day"])
    return did(request, step, said=said, role=role, back=_address("group", role, group_id))


@require_POST
def hand_over(request: HttpRequest, group_id: UUID) -> HttpResponse:
    """The whole group from one coach to another, in one act."""
    viewer = viewer_of(request, Role.ADMIN)
    page = group_page(viewer, group_id)
    form = HandOverForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: hand_over_group(
            viewer=viewer, group_id=group_id, from_coach_id=UUID(given["from_coach"]),
            to_coach_id=UUID(given["to_coach"]), from_day=given["from_day"],
        )
    )  # fmt: skip
    if not done:
        return _group(request, viewer, page, hand_over=form)
    said = _("%(group)s is handed over from %(day)s on.") % _said(page, form.cleaned_data["from_day"])
    return did(request, step, said=said, role=Role.ADMIN, back=_address("group", Role.ADMIN, group_id))


@require_http_methods(["GET", "POST"])
def age_groups(request: HttpRequest) -> HttpResponse:
    """Who moves? First the list, then all of it in one act."""
    viewer = viewer_of(request, Role.ADMIN)
    is_asked = "day" in (request.POST or request.GET)
    form = RuleForm(request.POST or (request.GET if is_asked else None), initial=_usual_rule(viewer.today))
    fault = ""
    if request.method == "POST" and form.is_valid():
        try:
            rule = RollOverRule(**form.cleaned_data)
            step = apply_roll_over(viewer=viewer, rule=rule, shown=request.POST.getlist("move"))
        except Refused as refusal:
            fault, form.status = refusal.detail, refusal.status
        else:
            moved = sum(one["before"] is None for one in step.changes) if step else 0
            said = ngettext("%(n)d athlete moves.", "%(n)d athletes move.", moved) % {"n": moved}
            return did(request, step, said=said, role=Role.ADMIN, back=reverse("age-groups"))
    is_whole = is_asked and form.is_valid()
    context = {
        "form": form,
        "fault": fault,
        "preview": roll_over_preview(viewer=viewer, rule=RollOverRule(**form.cleaned_data)) if is_whole else None,
        "steps": latest_steps(viewer, What.ROLLED),
        "acting_role": Role.ADMIN.label,
    }
    status = form.status if form.status != 200 or is_whole or not is_asked else Refused.status
    return render(request, "athletes/age_groups.html", context, status=status)


def _usual_rule(today: date) -> dict[str, date]:
    """The next 1 January, by year of birth."""
    return {"day": date(today.year + 1, 1, 1), "counted_on": date(today.year + 1, 12, 31)}


def _said(page: GroupPage, day: date) -> dict[str, str]:
    return {"group": page.group.name, "day": date_format(day, "j M Y")}


def _address(what: str, role: str, *args: object) -> str:
    return reverse(f"{'head-coach' if role == Role.HEAD_COACH else 'admin'}-{what}", args=args)


def _saved(request: HttpRequest) -> HttpResponse:
    messages.success(request, _("Kept."))
    return redirect("admin-groups")


def _overview(request: HttpRequest, viewer: Viewer, **typed: TypedForm) -> HttpResponse:
    """The page; after a fault with what was typed, in the form that it came from."""
    found = groups_overview(viewer)
    bad = next(iter(typed.values()), None)
    wrong = str(bad.data.get("id") or "") if bad else None
    squads = [
        (one, count, _form_of(SquadForm, typed.get("squad"), one.pk, id=one.pk, squad_name=one.name, under=one.under,
                              order=one.order))
        for one, count in found.squads
    ]  # fmt: skip
    groups = [
        (line, _form_of(GroupForm, typed.get("group"), line.group.pk, id=line.group.pk, group_name=line.group.name,
                        discipline=line.group.discipline, order=line.group.order))
        for line in found.groups
    ]  # fmt: skip
    context = {
        "squads": squads,
        "groups": groups,
        "new_squad": typed["squad"]
        if "squad" in typed and not wrong
        else SquadForm(initial={"order": len(squads) + 1}),
        "new_group": typed["group"]
        if "group" in typed and not wrong
        else GroupForm(initial={"order": len(groups) + 1}),
        "may_change": viewer.role == Role.ADMIN,
        "steps": latest_steps(viewer, *HANDED) if viewer.role == Role.ADMIN else latest_steps(viewer, What.PLACED),
        "role": viewer.role,
        "acting_role": Role(viewer.role).label,
    }
    return render(request, "athletes/groups.html", context, status=bad.status if bad else 200)


def _form_of(kind: type[TypedForm], typed: TypedForm | None, pk: UUID, **now: object) -> TypedForm:
    """The form of one row: what was typed into it, else what it holds; its ids are its own."""
    form = typed if typed is not None and str(typed.data.get("id")) == str(pk) else kind(initial=now)
    form.auto_id = f"{kind.name}-{pk}-%s"
    return form


def _group(request: HttpRequest, viewer: Viewer, page: GroupPage, **typed: TypedForm) -> HttpResponse:
    bad = next(iter(typed.values()), None)
    from_today = {"from_day": viewer.today, "last_day": viewer.today}
    is_admin = viewer.role == Role.ADMIN
    context = {
        "page": page,
        "put_in": typed.get("put_in") or PutInForm(page=page, initial=from_today),
        "take_out": typed.get("take_out") or TakeOutForm(page=page, initial=from_today),
        "hand_over": typed.get("hand_over") or HandOverForm(page=page, initial=from_today),
        "open": next(iter(typed), ""),
        "may_hand_over": is_admin,
        "steps": latest_steps(viewer, What.PLACED, What.HANDED) if is_admin else latest_steps(viewer, What.PLACED),
        "role": viewer.role,
        "acting_role": Role(viewer.role).label,
    }
    return render(request, "athletes/group.html", context, status=bad.status if bad else 200)
