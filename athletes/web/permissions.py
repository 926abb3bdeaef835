"""Pages of permissions: one question a purpose, yes and no alike, a stop in one tap."""

from dataclasses import dataclass, field
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from athletes.access import ASKED, athletes_asked_about, get_athlete_asked_about
from athletes.core import ages
from athletes.core.permissions import Answer, Code
from athletes.models import PermissionEvent, Person
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.selectors.access_log import may_see_log
from athletes.selectors.guardian_views import guardian_views
from athletes.selectors.permission_questions import (
    Question,
    answer_history,
    coaches_to_share_with,
    is_reminded,
    permission_questions,
    unanswered_counts,
)
from athletes.selectors.person import leaves_on
from athletes.selectors.sign_in_sheets import may_help
from athletes.services.record_permission import answer_permission, take_back_answer, withdraw_permission
from athletes.viewer import Viewer, left_with, viewer_of, viewer_on_own_data
from athletes.web.guardian_views import item
from teamtrack.common.errors import Refused
from teamtrack.common.web.undo import offer_undo

PURPOSES = [(purpose.value, purpose.label) for purpose in ASKED]
ANSWERS = [("yes", gettext_lazy("Yes")), ("no", gettext_lazy("No"))]


class PurposeForm(forms.Form):
    """Which question it is about."""

    purpose = forms.ChoiceField(choices=PURPOSES)


class AnswerForm(PurposeForm):
    """Yes or no to one question; a yes to share names its coaches."""

    answer = forms.ChoiceField(choices=ANSWERS)
    recipients = forms.TypedMultipleChoiceField(coerce=UUID, required=False)

    def __init__(self, *args: object, coaches: list[Person], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["recipients"].choices = [(str(coach.pk), coach.full_name) for coach in coaches]


class TakeBackForm(forms.Form):
    """Which answer is undone."""

    event = forms.UUIDField()


@dataclass(frozen=True)
class Fault:
    """What was wrong with an answer, shown at its question with what was chosen."""

    purpose: str
    sentence: str
    chosen: tuple[str, ...] = field(default=())


@require_GET
def children(request: HttpRequest) -> HttpResponse:
    """A guardian's children with their open questions; one child is shown at once."""
    viewer = viewer_of(request, Role.GUARDIAN)
    athletes, answers = athletes_asked_about(viewer)
    if len(athletes) == 1:
        return redirect("guardian-permissions-of", athletes[0].pk)
    counts = unanswered_counts(asked=answers.found, athletes=athletes)
    rows = [{"athlete": athlete, "open": counts[athlete.pk]} for athlete in athletes]
    shown = {
        "rows": rows,
        "is_reminded": any(counts.values()) and is_reminded(viewer=viewer),
        "acting_role": Role.GUARDIAN.label,
    }
    return render(request, "athletes/permission_children.html", shown)


@require_GET
def of_child(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """A guardian's questions about one child."""
    return _page(request, viewer_of(request, Role.GUARDIAN), athlete_id)


@require_GET
def own(request: HttpRequest) -> HttpResponse:
    """An athlete's own questions."""
    viewer = viewer_on_own_data(request, Role.ATHLETE)
    return _page(request, viewer, viewer.person_id)


@require_POST
def answer(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """Record yes or no."""
    viewer = viewer_of(request, role)
    athlete, _answers = get_athlete_asked_about(viewer, athlete_id)
    form = AnswerForm(request.POST, coaches=coaches_to_share_with(viewer=viewer, athlete=athlete))
    if not form.is_valid():
        return _fault_page(request, viewer, athlete_id, _("That answer could not be read. Nothing was changed."))
    given = form.cleaned_data
    try:
        event = answer_permission(
            viewer=viewer,
            athlete_id=athlete_id,
            purpose=given["purpose"],
            answer=given["answer"],
            recipient_ids=given["recipients"],
        )
    except Refused as refusal:
        if refusal.status != Refused.status:
            raise
        return _fault_page(request, viewer, athlete_id, refusal.detail)
    return _done(request, viewer, athlete_id, event)


@require_POST
def stop(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """Stop what was allowed, at once."""
    viewer = viewer_on_own_data(request, role)
    get_athlete_asked_about(viewer, athlete_id)
    form = PurposeForm(request.POST)
    if not form.is_valid():
        return _fault_page(request, viewer, athlete_id, _("That answer could not be read. Nothing was changed."))
    try:
        event = withdraw_permission(viewer=viewer, athlete_id=athlete_id, purpose=form.cleaned_data["purpose"])
    except Refused as refusal:
        if refusal.code != Code.GUARDIAN_NO_AUTHORITY:
            raise
        messages.success(request, _("Your wish is noted for the admins of the club. It does not decide."))
        return redirect(_address(viewer, athlete_id))
    return _done(request, viewer, athlete_id, event)


@require_POST
def take_back(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """Undo the last answer."""
    viewer = viewer_of(request, role)
    form = TakeBackForm(request.POST)
    get_athlete_asked_about(viewer, athlete_id)
    if not form.is_valid():
        return _fault_page(request, viewer, athlete_id, _("That step could not be read. Nothing was changed."))
    take_back_answer(viewer=viewer, athlete_id=athlete_id, event_id=form.cleaned_data["event"])
    return redirect(_address(viewer, athlete_id))


def _done(request: HttpRequest, viewer: Viewer, athlete_id: UUID, event: PermissionEvent) -> HttpResponse:
    text = _("%(purpose)s: %(answer)s") % {
        "purpose": event.get_purpose_display(),
        "answer": event.get_answer_display(),
    }
    if left_with(event.athlete, viewer.today) is not None:
        messages.success(request, text)
        return redirect(_address(viewer, athlete_id))
    action = reverse("permission-take-back", args=[viewer.role, athlete_id])
    offer_undo(request, text=text, action=action, fields={"event": str(event.pk)})
    return redirect(_address(viewer, athlete_id))


def _address(viewer: Viewer, athlete_id: UUID) -> str:
    if viewer.role == Role.ATHLETE:
        return reverse("athlete-permissions")
    return reverse("guardian-permissions-of", args=[athlete_id])


def _fault_page(request: HttpRequest, viewer: Viewer, athlete_id: UUID, sentence: str) -> HttpResponse:
    fault = Fault(request.POST.get("purpose", ""), sentence, tuple(request.POST.getlist("recipients")))
    return _page(request, viewer, athlete_id, fault=fault, status=400)


def _page(
    request: HttpRequest, viewer: Viewer, athlete_id: UUID, *, fault: Fault | None = None, status: int = 200
) -> HttpResponse:
    athlete, answers = get_athlete_asked_about(viewer, athlete_id)
    questions, left = permission_questions(asked=answers.found, athlete=athlete), left_with(athlete, viewer.today)
    context = {
        "athlete": athlete,
        "is_own": viewer.role == Role.ATHLETE,
        "role": viewer.role,
        "acting_role": Role(viewer.role).label,
        "questions": [_item(question, fault, has_left=left is not None) for question in questions],
        "page_fault": fault if fault and fault.purpose not in {question.purpose for question in questions} else None,
        "coaches": coaches_to_share_with(viewer=viewer, athlete=athlete),
        "is_reminded": not left and any(one.is_open for one in questions) and is_reminded(viewer=viewer),
        "guardians": _guardians(viewer),
        "history": answer_history(viewer=viewer, athlete=athlete),
        "zone": viewer.club.timezone,
        "leaves_on": leaves_on(viewer, athlete),
        "left_with": left,
        "may_give_sign_in": may_help(viewer, athlete_id, answers),
        "may_see_log": viewer.role == Role.GUARDIAN and may_see_log(viewer, athlete),
    }
    return render(request, "athletes/permissions.html", context, status=status)


def _guardians(viewer: Viewer) -> list[dict[str, object]]:
    """Said to the athlete alone: each guardian with what that person sees, in words for a minor or an adult."""
    if viewer.role != Role.ATHLETE:
        return []
    born = viewer.person.birth_date
    to_child = born is None or ages.is_minor(ages.age_on(born, viewer.today))
    return [
        {"guardian": one.guardian, "views": [item(view, to_child=to_child) for view in one.views]}
        for one in guardian_views(viewer=viewer)
    ]


def _item(question: Question, fault: Fault | None, *, has_left: bool) -> dict[str, object]:
    """A question with the sentences that belong to it; of whoever has left nothing new is asked."""
    to_child = question.wording.child_level
    may, stands = Answer(False, Code.MEMBERSHIP_ENDED) if has_left else question.may_answer, question.stands
    return {
        "question": question,
        "may_answer": may.may,
        "may_wish": question.may_stop.code is Code.GUARDIAN_NO_AUTHORITY,
        "why_not": "" if may.may else sentence_for(may.code, to_child=to_child),
        "stands": sentence_for(stands.code, to_child=to_child) if stands else "",
        "fault": fault if fault and fault.purpose == question.purpose else None,
    }
