"""Pages of the access log: an athlete's own lines, all of a club for admin and welfare lead."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext, ngettext_lazy
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_POST, require_safe

from athletes.access import get_athlete
from athletes.core.permissions.facts import Role as ActingRole
from athletes.log_key import public_key
from athletes.models import KeptKind
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.selectors.access_log import LogLine, access_log_page, chain_fault, open_questions
from athletes.selectors.signed_heads import newest_head
from athletes.selectors.todo import urgent_items
from athletes.selectors.unusual_reading import MANY_ATHLETES, unusual_reading
from athletes.services.log_questions import answer_question, ask_about_line
from athletes.viewer import SERVER, Viewer, viewer_of, viewer_on_own_data
from teamtrack.common.errors import Conflict, NotFound, Refused

VERB_WORDS = {
    "added": _("added"),
    "applied": _("put in force"),
    "accepted": _("took over"),
    "answered": _("answered about"),
    "apply": _("made it so in"),
    "ask": _("asked for"),
    "call_off": _("called off"),
    "called_off": _("called off"),
    "call_on": _("took back the calling off of"),
    "change": _("changed"),
    "changed": _("changed"),
    "closed": _("closed"),
    "confirmed": _("said yes to removing"),
    "correct": _("put right"),
    "easier": _("gave an easier version in"),
    "enter": _("entered"),
    "ended": _("ended"),
    "extend": _("lengthened"),
    "give": _("gave to another coach"),
    "made": _("made"),
    "make": _("made"),
    "mend": _("mended"),
    "moved": _("moved"),
    "no": _("said no to"),
    "not_reached": _("took back having reached somebody about"),
    "open": _("opened"),
    "opened": _("opened again"),
    "pinned": _("pinned or let go"),
    "publish": _("published"),
    "reached": _("reached somebody about"),
    "read": _("read"),
    "record": _("recorded"),
    "removed": _("removed"),
    "restored": _("repeated after a restore"),
    "say": _("told of"),
    "seen": _("has seen"),
    "set": _("set"),
    "signed_in": _("signed in to"),
    "solve": _("worked out"),
    "stop": _("stopped"),
    "take_back": _("took back"),
    "undo_publish": _("undid the publishing of"),
    "undone": _("undid a change of"),
    "withdraw": _("took out"),
    "withdrawn": _("withdrew"),
    "yes": _("said yes to"),
}
KIND_WORDS = (
    dict(KeptKind.choices)
    | dict(Purpose.choices)
    | {
        "calendar": _("the calendar"),
        "calendar_address": _("a calendar address"),
        "calendar_file": _("a calendar file"),
        "calendar_settings": _("what calendars tell"),
        "meet": _("a meet"),
        "result": _("a result"),
        "account": _("the own account"),
        "assignment": _("who coaches a group"),
        "caution": _("thunder or heat"),
        "check": _("a coach's check"),
        "club": _("the club's own numbers"),
        "club_days": _("the club's days"),
        "cue": _("words used"),
        "day": _("how hard the day was"),
        "demo_club": _("the demo club"),
        "brought": _("history from another club"),
        "consent_form": _("a form with a code"),
        "contact": _("a number to ring"),
        "coach_absence": _("when a coach cannot come"),
        "coach_evenings": _("a coach's evenings"),
        "coach_settings": _("how much a coach takes on"),
        "copy": _("a copy of what is kept"),
        "data_request": _("a data request"),
        "emergency_access": _("pain notes, in an emergency"),
        "event_group": _("an event group"),
        "felt": _("how the strides felt"),
        "focus": _("the points in hand"),
        "unsuited": _("what does not suit"),
        "group": _("a group's settings"),
        "guardian": _("a guardian's link"),
        "guardian_view": _("what a guardian may see"),
        "hidden_line": _("a line on the own page"),
        "hold": _("a hold"),
        "keeping": _("what is over its time"),
        "ledger": _("what had been removed or closed"),
        "log_line": _("a line of this log"),
        "mark": _("a mark"),
        "member": _("a membership"),
        "notice": _("a notice"),
        "observation": _("what a stride showed"),
        "other_sport": _("another sport"),
        "own_view": _("the runner's own view"),
        "pain": _("a pain note"),
        "period": _("how long something is kept"),
        "permission": _("a permission"),
        "presence": _("the roll call"),
        "person": _("name, birth date, reach"),
        "proposal": _("a proposal of the planner"),
        "rehearsal": _("a rehearsal of the season"),
        "restriction": _("what is kept off for a time"),
        "role": _("a role"),
        "roster": _("the roster as a file or on paper"),
        "roster_file": _("a roster that was read in"),
        "season": _("a season plan"),
        "rules": _("the club's rules"),
        "run": _("a run's time and steps"),
        "second_factor": _("a second factor"),
        "session_note": _("a note on a session"),
        "sheet": _("a printed sheet"),
        "sign_in": _("sign-ins"),
        "sign_in_sheet": _("a sheet for signing in"),
        "squad": _("a squad"),
        "stop": _("a stop"),
        "training_session": _("a training session"),
        "venue": _("a venue"),
        "venue_closing": _("a venue's closing"),
        "venue_hours": _("a venue's hours"),
        "week": _("a week plan"),
        "wording": _("the wording of a question"),
    }
)

ROLE_WORDS = dict(Role.choices) | {SERVER: _("The server"), ActingRole.EMERGENCY_ACCESS.value: _("Emergency access")}

RULE_WORDS = {
    "emergency": ngettext_lazy(
        "pain notes of %d athlete opened in an emergency", "pain notes of %d athletes opened in an emergency"
    ),
    "many": ngettext_lazy("health notes of %d athlete in one day", "health notes of %d athletes in one day"),
    "night": ngettext_lazy("health notes of %d athlete at night", "health notes of %d athletes at night"),
    "outside": ngettext_lazy(
        "health notes of %d athlete outside the own groups", "health notes of %d athletes outside the own groups"
    ),
}


class AskForm(forms.Form):
    """A question about a line."""

    seq = forms.IntegerField(min_value=1, max_value=2**62)
    words = forms.CharField(max_length=500)


@require_safe
def who_looked(request: HttpRequest) -> HttpResponse:
    """Who looked at what the club keeps about the signed-in athlete."""
    viewer = viewer_on_own_data(request, Role.ATHLETE)
    return _family_page(request, viewer, viewer.person_id)


@require_safe
def who_looked_of(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Who looked at a child's, for a guardian whom the decision lets see it."""
    return _family_page(request, viewer_of(request, Role.GUARDIAN), athlete_id)


@require_POST
def ask(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """A question about one line, for an admin to answer."""
    viewer = viewer_on_own_data(request, role)
    athlete = get_athlete(viewer, athlete_id, "audit")
    form = AskForm(request.POST)
    if not form.is_valid():
        fault = gettext("Please write what you want to know, in at most 500 characters. Nothing was sent.")
        return _family_page(request, viewer, athlete_id, fault=fault, status=400)
    try:
        ask_about_line(viewer=viewer, athlete_id=athlete.pk, **form.cleaned_data)
    except Conflict as conflict:
        return _family_page(request, viewer, athlete_id, fault=conflict.detail, status=409)
    messages.success(request, gettext("Your question is with the admins. Their answer will stand beside the line."))
    return redirect("who-looked") if role == Role.ATHLETE else redirect("guardian-who-looked", athlete_id)


@require_POST
def answer(request: HttpRequest, question_id: UUID) -> HttpResponse:
    """An admin's answer to a question about a line."""
    viewer = viewer_of(request, Role.ADMIN)
    said = request.POST.get("answer", "")
    try:
        answer_question(viewer=viewer, question_id=question_id, answer=said)
    except NotFound:
        raise
    except Refused as refusal:
        messages.error(request, refusal.detail)
    return redirect("admin-access-log")


@require_safe
def admin_log(request: HttpRequest) -> HttpResponse:
    """All lines of the club, for the admin."""
    return _staff_page(request, Role.ADMIN)


@require_safe
def welfare_log(request: HttpRequest) -> HttpResponse:
    """All lines of the club, for the welfare lead."""
    return _staff_page(request, Role.WELFARE)


def _family_page(
    request: HttpRequest, viewer: Viewer, athlete_id: UUID, *, fault: str = "", status: int = 200
) -> HttpResponse:
    athlete = get_athlete(viewer, athlete_id, "audit")
    lines, following = access_log_page(viewer, athlete_id=athlete_id, before=_before(request))
    context = _context(viewer, lines, following) | {
        "athlete": athlete,
        "viewer_role": viewer.role,
        "fault_of_form": fault,
    }
    context["is_own"] = viewer.role == Role.ATHLETE
    return render(request, "athletes/access_log.html", context, status=status)


def _staff_page(request: HttpRequest, role: Role) -> HttpResponse:
    viewer = viewer_of(request, role)
    lines, following = access_log_page(viewer, before=_before(request))
    wants_check = "check" in request.GET
    unusual = unusual_reading(viewer)
    context = _context(viewer, lines, following) | {
        "is_staff": True,
        "wants_check": wants_check,
        "fault": chain_fault(club_id=viewer.club_id) if wants_check else None,
        "head": newest_head(viewer.club_id),
        "public_key": public_key(),
        "many": MANY_ATHLETES,
        "urgent": urgent_items(viewer) if role == Role.WELFARE else [],
        "unusual": [(one, RULE_WORDS[one.rule] % one.athletes) for one in unusual],
        "questions": [(asked, _words(line)) for asked, line in open_questions(viewer)] if role == Role.ADMIN else [],
    }
    return render(request, "athletes/access_log.html", context)


def _context(viewer: Viewer, lines: list[LogLine], following: int | None) -> dict[str, object]:
    return {
        "lines": [_words(line) for line in lines],
        "following": following,
        "acting_role": Role(viewer.role).label,
        "zone": viewer.club.timezone,
    }


def _words(line: LogLine) -> tuple[LogLine, object, object, object]:
    return line, verb_words(line.verb), kind_words(line.kind), role_words(line.actor_role)


def _before(request: HttpRequest) -> int | None:
    before = request.GET.get("before", "")
    return int(before) if before.isdecimal() and len(before) < 19 else None


def verb_words(verb: str) -> object:
    """What was done; a log that another version wrote may hold more."""
    return VERB_WORDS.get(verb, _("worked on"))


def kind_words(kind: str) -> object:
    """With what it was done."""
    return KIND_WORDS.get(kind, _("something kept"))


def role_words(role: str) -> object:
    """In which role it was done."""
    return ROLE_WORDS.get(role, _("another role"))
