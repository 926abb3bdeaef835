"""Pages of data requests: a family asks and sees the clock; an admin sees what is due, extends, answers."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from athletes.access import athletes_visible_to, get_athlete, get_athlete_asked_about
from athletes.core.permissions import Code
from athletes.models import DataRequest, Person
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.selectors.person import leaves_on
from athletes.selectors.person_record import corrections_for
from athletes.selectors.requests import (
    WHAT,
    PutRight,
    RequestLine,
    coaches_to_put_right,
    ended_requests,
    get_request,
    open_requests,
    own_requests,
    put_right_because_of,
)
from athletes.services.requests import (
    Asked,
    asked_by_candidates,
    end_request,
    enter_request,
    extend_request,
    open_request,
    take_back_request,
)
from athletes.viewer import Viewer, left_with, viewer_of, viewer_on_own_data
from athletes.web.person_record import change_words
from athletes.web.request_words import (
    EXPLAINED,
    KIND_WORDS,
    WHAT_WORDS,
    is_allowed,
    kept_to_start_from,
    letter_to_start_from,
    needs_no_permission,
)
from teamtrack.common.errors import Refused
from teamtrack.common.web.undo import offer_undo

Kind = DataRequest.Kind
WANTED = [
    (f"{kind.value} {what}".strip(), f"{KIND_WORDS[kind]}" + (f": {WHAT_WORDS[what]}" if what else ""))
    for kind in Kind
    for what in WHAT[kind]
]


class AskForm(forms.Form):
    """What is asked, about which data, in the family's own words."""

    wanted = forms.ChoiceField(choices=WANTED)
    words = forms.CharField(max_length=1000, required=False)

    @property
    def asked(self) -> Asked:
        kind, _space, what = self.cleaned_data["wanted"].partition(" ")
        return Asked(kind, what, self.cleaned_data["words"])


class EnterForm(AskForm):
    """A request on paper: who asks about whom."""

    athlete = forms.UUIDField()
    asked_by = forms.UUIDField()


class ExtendForm(forms.Form):
    """Why it takes longer; the family is told."""

    because = forms.CharField(max_length=300, label=gettext_lazy("Why it takes two months more"))


class EndForm(forms.Form):
    """The text that is sent, what stays and why."""

    answer = forms.CharField(
        max_length=5000, label=gettext_lazy("Text to send"), widget=forms.Textarea(attrs={"rows": 9})
    )
    kept = forms.CharField(
        max_length=2000, required=False, label=gettext_lazy("What stays, and why"),
        widget=forms.Textarea(attrs={"rows": 4}),
    )  # fmt: skip


@require_safe
def own(request: HttpRequest) -> HttpResponse:
    """An athlete's own requests."""
    viewer = viewer_on_own_data(request, Role.ATHLETE)
    return _family_page(request, viewer, viewer.person_id)


@require_safe
def of_child(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """A guardian's requests about one child."""
    return _family_page(request, viewer_of(request, Role.GUARDIAN), athlete_id)


@require_POST
def ask(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """A family asks."""
    viewer = viewer_on_own_data(request, role)
    get_athlete_asked_about(viewer, athlete_id)
    form = AskForm(request.POST)
    if not form.is_valid():
        return _family_page(request, viewer, athlete_id, _("Say what you want. Nothing was sent."), form)
    try:
        row = open_request(viewer=viewer, athlete_id=athlete_id, asked=form.asked)
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _family_page(request, viewer, athlete_id, refusal.detail, form)
    offer_undo(
        request,
        text=_("Sent: %(kind)s") % {"kind": KIND_WORDS[Kind(row.kind)]},
        action=reverse("request-take-back", args=[viewer.role, row.pk]),
        fields={},
    )
    return redirect(_family_address(viewer, athlete_id))


@require_POST
def take_back(request: HttpRequest, role: str, request_id: UUID) -> HttpResponse:
    """Whoever asked takes it back."""
    viewer = viewer_on_own_data(request, role)
    row = take_back_request(viewer=viewer, request_id=request_id)
    return redirect(_family_address(viewer, row.athlete_id))


@require_safe
def admin_list(request: HttpRequest) -> HttpResponse:
    """What is due, the first due first, and what ended."""
    return _admin_page(request, viewer_of(request, Role.ADMIN))


@require_POST
def enter(request: HttpRequest) -> HttpResponse:
    """An admin enters what came on paper or was spoken."""
    viewer = viewer_of(request, Role.ADMIN)
    form = EnterForm(request.POST)
    if not form.is_valid():
        return _admin_page(request, viewer, _("Say who asks for what. Nothing was kept."))
    athlete = get_athlete(viewer, form.cleaned_data["athlete"])
    asked_by = next((one for one in asked_by_candidates(athlete) if one.pk == form.cleaned_data["asked_by"]), None)
    if asked_by is None:
        return _admin_page(request, viewer, _("Only the athlete or a guardian can ask. Nothing was kept."))
    try:
        row = enter_request(viewer=viewer, athlete=athlete, asked_by=asked_by, asked=form.asked)
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _admin_page(request, viewer, refusal.detail)
    return redirect("admin-request", row.pk)


@require_safe
def admin_request(request: HttpRequest, request_id: UUID) -> HttpResponse:
    """One request: its clock, the next step, the text to send."""
    return _request_page(request, viewer_of(request, Role.ADMIN), request_id)


@require_POST
def extend(request: HttpRequest, request_id: UUID) -> HttpResponse:
    """Two months more, with a reason."""
    viewer = viewer_of(request, Role.ADMIN)
    form = ExtendForm(request.POST)
    get_request(viewer, request_id)
    try:
        because = form.cleaned_data["because"] if form.is_valid() else ""
        extend_request(viewer=viewer, request_id=request_id, because=because)
    except Refused as refusal:
        return _request_page(request, viewer, request_id, refusal.detail, status=refusal.status)
    return redirect("admin-request", request_id)


@require_POST
def end(request: HttpRequest, request_id: UUID) -> HttpResponse:
    """Done, or not followed, with the text that is sent."""
    viewer = viewer_of(request, Role.ADMIN)
    form = EndForm(request.POST)
    get_request(viewer, request_id)
    if not form.is_valid():
        return _request_page(request, viewer, request_id, _("Write the text that is sent."), form=form, status=400)
    try:
        end_request(
            viewer=viewer, request_id=request_id, followed=request.POST.get("end") == "done", **form.cleaned_data
        )
    except Refused as refusal:
        return _request_page(request, viewer, request_id, refusal.detail, form=form, status=refusal.status)
    messages.success(request, _("Ended. Print the letter or read it to the family."))
    return redirect("admin-request", request_id)


def _family_address(viewer: Viewer, athlete_id: UUID) -> str:
    if viewer.role == Role.ATHLETE:
        return reverse("athlete-requests")
    return reverse("guardian-requests", args=[athlete_id])


def _family_page(
    request: HttpRequest, viewer: Viewer, athlete_id: UUID, fault: str = "", form: AskForm | None = None
) -> HttpResponse:
    athlete, _answers = get_athlete_asked_about(viewer, athlete_id)
    context = {
        "athlete": athlete,
        "is_own": viewer.role == Role.ATHLETE,
        "role": viewer.role,
        "acting_role": Role(viewer.role).label,
        "kinds": [(kind, KIND_WORDS[kind], EXPLAINED[kind], _wanted(kind)) for kind in Kind],
        "requests": _family_lines(viewer, athlete),
        "leaves_on": leaves_on(viewer, athlete),
        "left_with": left_with(athlete, viewer.today),
        "fault": fault,
        "form": form,
    }
    return render(request, "athletes/family_requests.html", context, status=400 if fault else 200)


def _with_words(lines: list[RequestLine]) -> list[tuple[RequestLine, object, object]]:
    return [(line, KIND_WORDS[Kind(line.row.kind)], WHAT_WORDS[line.row.what]) for line in lines]


def _family_lines(viewer: Viewer, athlete: Person) -> list[tuple[RequestLine, object, object, list[PutRight]]]:
    lines = _with_words(own_requests(viewer=viewer, athlete=athlete))
    return [(line, kind, what, put_right_because_of(viewer, line.row)) for line, kind, what in lines]


def _wanted(kind: DataRequest.Kind) -> list[tuple[str, object]]:
    return [(f"{kind.value} {what}".strip(), WHAT_WORDS[what]) for what in WHAT[kind]]


def _admin_page(request: HttpRequest, viewer: Viewer, fault: str = "") -> HttpResponse:
    people = athletes_visible_to(viewer)
    chosen = next((one for one in people if str(one.pk) == request.GET.get("for", "")), None)
    context = {
        "open": _with_words(open_requests(viewer)),
        "ended": _with_words(ended_requests(viewer)),
        "people": people,
        "chosen": chosen,
        "askers": asked_by_candidates(chosen) if chosen else [],
        "wanted": WANTED,
        "fault": fault,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/requests.html", context, status=400 if fault else 200)


def _request_page(
    request: HttpRequest, viewer: Viewer, request_id: UUID, fault: str = "", *, form: EndForm | None = None,
    status: int = 200,
) -> HttpResponse:  # fmt: skip
    line = get_request(viewer, request_id)
    row = line.row
    start = {"answer": letter_to_start_from(row), "kept": kept_to_start_from(row)}
    context = {
        "line": line,
        "kind": KIND_WORDS[Kind(row.kind)],
        "what": WHAT_WORDS[row.what],
        "says": "" if needs_no_permission(row) else sentence_for(Code(row.code)),
        "is_allowed": is_allowed(row),
        "put_right": put_right_because_of(viewer, row),
        "coaches": coaches_to_put_right(viewer, row),
        "changes": [(one, change_words(one)) for one in corrections_for(viewer, row)],
        "end_form": form or EndForm(initial=start),
        "extend_form": ExtendForm(),
        "fault": fault,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/request.html", context, status=status)
