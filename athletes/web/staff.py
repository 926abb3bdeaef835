"""The admin's pages of the staff: who does what, added, given roles and groups, checks entered when seen."""

from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.models import Clearance
from athletes.models.accounts import Role
from athletes.selectors.sign_in_sheets import open_sign_ins
from athletes.selectors.staff import StaffPage, staff, staff_page
from athletes.services.staff import (
    add_staff,
    assign_coach,
    end_assignment,
    end_role,
    enter_check,
    give_role,
)
from athletes.viewer import Viewer, viewer_of
from athletes.web.step_up import proved
from athletes.web.steps import did
from teamtrack.common.web.forms import DayField, TypedForm

STAFF_ROLES = [
    (Role.COACH, Role.COACH.label),
    (Role.HEAD_COACH, Role.HEAD_COACH.label),
    (Role.ADMIN, Role.ADMIN.label),
    (Role.WELFARE, Role.WELFARE.label),
]


FIRST_ROLE = {"role": Role.COACH}


class NewStaffForm(TypedForm):
    """Somebody new, in one role to begin with."""

    name = "new-staff"
    given_name = forms.CharField(label=gettext_lazy("Given name"), max_length=60)
    family_name = forms.CharField(label=gettext_lazy("Family name"), max_length=60)
    birth_date = DayField(
        label=gettext_lazy("Birth date"), required=False,
        help_text=gettext_lazy("Without it somebody counts as under 18: a helper, never the adult."),
    )  # fmt: skip
    phone = forms.CharField(label=gettext_lazy("Number to ring"), max_length=30, required=False)
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=STAFF_ROLES)


class RoleForm(TypedForm):
    """A role to give."""

    name = "role"
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=STAFF_ROLES)


class AssignForm(TypedForm):
    """A group to work with, from and until."""

    name = "assign"
    group = forms.ChoiceField(label=gettext_lazy("Event group"))
    first_day = DayField(label=gettext_lazy("First day"))
    last_day = DayField(
        label=gettext_lazy("Last day"), required=False,
        help_text=gettext_lazy("Empty: until further notice. To stand in for one day, the same as the first."),
    )  # fmt: skip

    def __init__(self, *args: Any, page: StaffPage, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["group"].choices = [(str(one.pk), one.name) for one in page.groups]


class EndForm(AssignForm):
    """Up to which day somebody works with a group."""

    name = "end"
    first_day = None
    last_day = DayField(label=gettext_lazy("Last day"))

    def __init__(self, *args: Any, page: StaffPage, **options: Any) -> None:
        super().__init__(*args, page=page, **options)
        held = {group.pk: group for _stay, group in page.stays}
        self.fields["group"].choices = [(str(one.pk), one.name) for one in held.values()]


class CheckForm(TypedForm):
    """A check that was seen."""

    name = "check"
    kind = forms.ChoiceField(label=gettext_lazy("What you saw"), choices=Clearance.Kind.choices)
    seen_on = DayField(label=gettext_lazy("Seen on"))
    expires_on = DayField(label=gettext_lazy("Runs out on"))


@require_http_methods(["GET", "POST"])
def overview(request: HttpRequest) -> HttpResponse:
    """Who does what, and whose check is missing?"""
    return _added(request) if request.method == "POST" else _overview(request, NewStaffForm(initial=FIRST_ROLE))


@proved
def _added(request: HttpRequest) -> HttpResponse:
    viewer = viewer_of(request, Role.ADMIN)
    form = NewStaffForm(request.POST)
    done, person = form.tried(lambda given: add_staff(viewer=viewer, **given))
    return redirect("staff-person", person.pk) if done and person is not None else _overview(request, form)


def _overview(request: HttpRequest, form: NewStaffForm) -> HttpResponse:
    viewer = viewer_of(request, Role.ADMIN)
    lines = staff(viewer)
    context = {
        "lines": lines,
        "missing": [line for line in lines if line.needs_check],
        "form": form,
        "club": viewer.club,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/staff.html", context, status=form.status)


@require_safe
def one(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """What does this person do, and is the check in date?"""
    viewer = viewer_of(request, Role.ADMIN)
    return _page(request, viewer, staff_page(viewer, person_id))


@require_POST
@proved
def role_give(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Give a role from today on."""
    viewer = viewer_of(request, Role.ADMIN)
    page = staff_page(viewer, person_id)
    form = RoleForm(request.POST)
    done, step = form.tried(lambda given: give_role(viewer=viewer, person_id=person_id, role=given["role"]))
    said = _("The role holds from today on.")
    return _did(request, step, said, person_id) if done else _page(request, viewer, page, role=form)


@require_POST
@proved
def role_end(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """End a role with yesterday."""
    viewer = viewer_of(request, Role.ADMIN)
    page = staff_page(viewer, person_id)
    form = RoleForm(request.POST)
    done, step = form.tried(lambda given: end_role(viewer=viewer, person_id=person_id, role=given["role"]))
    return _did(request, step, _("The role has ended."), person_id) if done else _page(request, viewer, page, role=form)


@require_POST
@proved
def assign(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Let somebody work with a group."""
    viewer = viewer_of(request, Role.ADMIN)
    page = staff_page(viewer, person_id)
    form = AssignForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: assign_coach(
            viewer=viewer, person_id=person_id, group_id=UUID(given["group"]), first_day=given["first_day"],
            last_day=given["last_day"],
        )
    )  # fmt: skip
    said = _("Assigned. The families of the group see it.")
    return _did(request, step, said, person_id) if done else _page(request, viewer, page, assign=form)


@require_POST
def unassign(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """End somebody's work with a group with a day."""
    viewer = viewer_of(request, Role.ADMIN)
    page = staff_page(viewer, person_id)
    form = EndForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: end_assignment(
            viewer=viewer, person_id=person_id, group_id=UUID(given["group"]), last_day=given["last_day"]
        )
    )
    said = _("The work with this group ends with that day.")
    return _did(request, step, said, person_id) if done else _page(request, viewer, page, end=form)


@require_POST
def check(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Enter a check that was seen."""
    viewer = viewer_of(request, Role.ADMIN)
    page = staff_page(viewer, person_id)
    form = CheckForm(request.POST)
    done, step = form.tried(lambda given: enter_check(viewer=viewer, person_id=person_id, **given))
    said = _("The check is entered.")
    return _did(request, step, said, person_id) if done else _page(request, viewer, page, check=form)


def _did(request: HttpRequest, step: Any, said: str, person_id: UUID) -> HttpResponse:
    return did(request, step, said=said, role=Role.ADMIN, back=reverse("staff-person", args=[person_id]))


def _page(request: HttpRequest, viewer: Viewer, page: StaffPage, **typed: TypedForm) -> HttpResponse:
    bad = next(iter(typed.values()), None)
    context = {
        "sign_ins": open_sign_ins(viewer, page.line.person),
        "is_self": page.line.person.pk == viewer.person_id,
        "page": page,
        "role_form": typed.get("role") or RoleForm(),
        "assign_form": typed.get("assign") or AssignForm(page=page, initial={"first_day": viewer.today}),
        "end_form": typed.get("end") or EndForm(page=page, initial={"last_day": viewer.today}),
        "check_form": typed.get("check") or CheckForm(initial={"seen_on": viewer.today}),
        "open": next(iter(typed), ""),
        "today": viewer.today,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/staff_person.html", context, status=bad.status if bad else 200)
