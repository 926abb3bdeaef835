"""The admin's page of one athlete: membership and trial, squad and groups, guardians; and somebody new, typed."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.models import PeopleStep
from athletes.models.accounts import Role
from athletes.selectors.groups import latest_steps
from athletes.selectors.person import AthletePage, athlete_page, people_named
from athletes.services.groups import put_in_group, put_in_squad, take_out_of_group
from athletes.services.people import (
    add_athlete,
    come_back,
    end_trial,
    leave_club,
    link_guardian,
)
from athletes.viewer import Viewer, viewer_of
from athletes.web.step_up import proved
from athletes.web.steps import did
from teamtrack.common.web.forms import DayField, TypedForm

NOBODY_HERE = "new"


class NewAthleteForm(TypedForm):
    """Who somebody is; an athlete, or a visitor until a day."""

    name = "new-athlete"
    given_name = forms.CharField(label=gettext_lazy("Given name"), max_length=60)
    family_name = forms.CharField(label=gettext_lazy("Family name"), max_length=60)
    birth_date = DayField(
        label=gettext_lazy("Birth date"), required=False,
        help_text=gettext_lazy("Without it an athlete is treated as a young child."),
    )  # fmt: skip
    first_day = DayField(label=gettext_lazy("First day"))
    trial_until = DayField(
        label=gettext_lazy("On trial until"), required=False,
        help_text=gettext_lazy("Empty for a member. Of a visitor name, number and presence are kept, nothing else."),
    )  # fmt: skip
    notice_shown = forms.BooleanField(
        label=gettext_lazy("The family was given the notice of what is kept and why"), required=False
    )


class SquadForm(TypedForm):
    """The squad from a day on."""

    name = "squad"
    squad = forms.ChoiceField(label=gettext_lazy("Squad"))
    from_day = DayField(label=gettext_lazy("From which day"))

    def __init__(self, *args: Any, page: AthletePage, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["squad"].choices = [(str(one.pk), one.name) for one in page.all_squads]


class GroupForm(TypedForm):
    """An event group from a day on, beside others."""

    name = "group"
    group = forms.ChoiceField(label=gettext_lazy("Event group"))
    from_day = DayField(label=gettext_lazy("From which day"))

    def __init__(self, *args: Any, page: AthletePage, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["group"].choices = [(str(one.pk), one.name) for one in page.all_groups]


class OutForm(TypedForm):
    """Out of an event group after a day."""

    name = "out"
    group = forms.ChoiceField(label=gettext_lazy("Event group"))
    last_day = DayField(label=gettext_lazy("Last day in the group"))

    def __init__(self, *args: Any, page: AthletePage, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["group"].choices = [(str(row.group_id), row.group.name) for row in page.groups]


class LeaveForm(TypedForm):
    """The last day as a member."""

    name = "leave"
    last_day = DayField(label=gettext_lazy("Last day in the club"))


class JoinForm(TypedForm):
    """A visitor joins."""

    name = "join"
    first_day = DayField(label=gettext_lazy("A member from"))


class BackForm(JoinForm):
    """Somebody comes back."""

    name = "back"
    notice_shown = forms.BooleanField(
        label=gettext_lazy("The family was given the notice of what is kept and why"), required=False
    )


class GuardianForm(TypedForm):
    """A guardian: somebody new, or whoever of this name is here already."""

    name = "guardian"
    given_name = forms.CharField(label=gettext_lazy("Given name"), max_length=60)
    family_name = forms.CharField(label=gettext_lazy("Family name"), max_length=60)
    phone = forms.CharField(label=gettext_lazy("Number to ring"), max_length=30, required=False)
    email = forms.EmailField(label=gettext_lazy("E-mail"), required=False)
    who = forms.ChoiceField(label=gettext_lazy("Is it one of these?"), widget=forms.RadioSelect, required=False)

    def __init__(self, *args: Any, viewer: Viewer, **options: Any) -> None:
        super().__init__(*args, **options)
        given, family = self.data.get("given_name", ""), self.data.get("family_name", "")
        same = people_named(viewer=viewer, given_name=given, family_name=family) if given and family else []
        if not same:
            del self.fields["who"]
            return
        self.fields["who"].choices = [
            *((str(person.pk), _named(person.full_name, children)) for person, children in same),
            (NOBODY_HERE, _("Somebody else of this name")),
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if "who" in self.fields and not given.get("who") and "who" not in self.errors:
            self.add_error("who", _("Somebody of this name is here already: say whether it is the same person."))
        return given


def _named(name: str, children: tuple[str, ...]) -> str:
    return (
        _("%(name)s, guardian of %(children)s") % {"name": name, "children": ", ".join(children)} if children else name
    )


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Somebody new, typed."""
    viewer = viewer_of(request, Role.ADMIN)
    form = NewAthleteForm(request.POST or None, initial={"first_day": viewer.today})
    if request.method == "POST":
        done, person = form.tried(lambda given: add_athlete(viewer=viewer, **given))
        if done and person is not None:
            messages.success(request, _("%(name)s is on the roster.") % {"name": person.full_name})
            return redirect("admin-person", person.pk)
    context = {"form": form, "acting_role": Role.ADMIN.label}
    return render(request, "athletes/person_new.html", context, status=form.status)


@require_safe
def one(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Is everything there: groups, a number to ring, a guardian?"""
    viewer = viewer_of(request, Role.ADMIN)
    return _page(request, viewer, athlete_page(viewer, athlete_id))


@require_POST
def squad(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """The squad from a day on."""
    viewer = viewer_of(request, Role.ADMIN)
    page = athlete_page(viewer, athlete_id)
    form = SquadForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: put_in_squad(
            viewer=viewer, athlete_id=athlete_id, squad_id=UUID(given["squad"]), from_day=given["from_day"]
        )
    )
    return _did(request, step, _("The squad is set."), page) if done else _page(request, viewer, page, squad=form)


@require_POST
def group(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Into an event group from a day on."""
    viewer = viewer_of(request, Role.ADMIN)
    page = athlete_page(viewer, athlete_id)
    form = GroupForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: put_in_group(
            viewer=viewer, athlete_id=athlete_id, group_id=UUID(given["group"]), from_day=given["from_day"]
        )
    )
    return _did(request, step, _("The group is set."), page) if done else _page(request, viewer, page, group=form)


@require_POST
def out(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Out of an event group after a day."""
    viewer = viewer_of(request, Role.ADMIN)
    page = athlete_page(viewer, athlete_id)
    form = OutForm(request.POST, page=page)
    done, step = form.tried(
        lambda given: take_out_of_group(
            viewer=viewer, athlete_id=athlete_id, group_id=UUID(given["group"]), last_day=given["last_day"]
        )
    )
    return _did(request, step, _("The group ends."), page) if done else _page(request, viewer, page, out=form)


@require_POST
def leave(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Somebody leaves with a day."""
    viewer = viewer_of(request, Role.ADMIN)
    page = athlete_page(viewer, athlete_id)
    form = LeaveForm(request.POST)
    done, step = form.tried(lambda given: leave_club(viewer=viewer, athlete_id=athlete_id, last_day=given["last_day"]))
    if not done:
        return _page(request, viewer, page, leave=form)
    day = date_format(form.cleaned_data["last_day"], "j M Y")
    said = _("The membership ends with %(day)s. The family is told, and offered a copy to take along.") % {"day": day}
    return _did(request, step, said, page)


@require_POST
def back(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Somebody who left comes back."""
    viewer = viewer_of(request, Role.ADMIN)
    page = athlete_page(viewer, athlete_id)
    form = BackForm(request.POST)
    done, step = form.tried(lambda given: come_back(viewer=viewer, athlete_id=athlete_id, **given))
    said = _("A member again. What was allowed before is asked anew.")
    return _did(request, step, said, page) if done else _page(request, viewer, page, back=form)


@require_POST
def join(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """A visitor joins."""
    viewer = viewer_of(request, Role.ADMIN)
    page = athlete_page(viewer, athlete_id)
    form = JoinForm(request.POST)
    done, step = form.tried(lambda given: end_trial(viewer=viewer, athlete_id=athlete_id, first_day=given["first_day"]))
    return _did(request, step, _("A member from now on."), page) if done else _page(request, viewer, page, join=form)


@require_POST
@proved
def guardian(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Link a guardian."""
    viewer = viewer_of(request, Role.ADMIN)
    page = athlete_page(viewer, athlete_id)
    form = GuardianForm(request.POST, viewer=viewer)
    done, step = form.tried(lambda given: link_guardian(viewer=viewer, athlete_id=athlete_id, **_guardian(given)))
    said = _("Linked. Next: see the papers and say what they show.")
    return _did(request, step, said, page) if done else _page(request, viewer, page, guardian=form)


def _guardian(given: dict[str, Any]) -> dict[str, Any]:
    """Whom to link: a person who is here, or somebody new."""
    who = given.pop("who", "")
    return given | {"guardian_id": UUID(who) if who and who != NOBODY_HERE else None}


def _did(request: HttpRequest, step: PeopleStep | None, said: str, page: AthletePage) -> HttpResponse:
    return did(request, step, said=said, role=Role.ADMIN, back=reverse("admin-person", args=[page.athlete.pk]))


def _page(request: HttpRequest, viewer: Viewer, page: AthletePage, **typed: TypedForm) -> HttpResponse:
    """The page; after a fault with what was typed, in the form that it came from."""
    bad, today = next(iter(typed.values()), None), {"from_day": viewer.today, "last_day": viewer.today}
    context = {
        "page": page,
        "forms": {
            "squad": SquadForm(page=page, initial=today),
            "group": GroupForm(page=page, initial=today),
            "out": OutForm(page=page, initial=today),
            "leave": LeaveForm(initial=today),
            "join": JoinForm(initial={"first_day": viewer.today}),
            "back": BackForm(initial={"first_day": viewer.today}),
            "guardian": GuardianForm(viewer=viewer),
        }
        | typed,
        "open": next(iter(typed), ""),
        "steps": [
            step
            for step in latest_steps(viewer, PeopleStep.What.PLACED, PeopleStep.What.MEMBER, PeopleStep.What.GUARDIAN)
            if any(str(page.athlete.pk) in (one["after"] or one["before"]).values() for one in step.changes)
        ],
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/person.html", context, status=bad.status if bad else 200)
