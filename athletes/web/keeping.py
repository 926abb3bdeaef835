"""The admin's page of keeping: what the night counted and what waits, holds, the club's periods, what went lately."""

from collections.abc import Callable, Mapping
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from athletes.access import athletes_visible_to
from athletes.core.keeping import DAYS_TO_REVIEW
from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import NEVER_SHORTER, PERIOD_DAYS
from athletes.models import KeptKind, LedgerLine
from athletes.models.accounts import Role
from athletes.selectors.keeping import club_periods, gone_lately, open_holds
from athletes.services.health_keys import DESTROYED
from athletes.services.holds import lift_hold, review_hold, set_hold
from athletes.services.keep import confirm_step
from athletes.services.keepers import keeper_named
from athletes.services.periods import kinds_with_period, set_period
from athletes.services.what_waits import newest_night, waiting_steps
from athletes.viewer import Viewer, viewer_of
from athletes.web.step_up import proved
from teamtrack.common.errors import NotFound, Refused

LONGEST_DAYS = 36500
KEY_WORDS = gettext_lazy("keys of health text")


class HoldForm(forms.Form):
    """Whose rows are held, where the reason lies, when it is looked at again."""

    athlete_id = forms.UUIDField()
    reference = forms.CharField(max_length=60)
    review_on = forms.DateField(required=False)


class PeriodForm(forms.Form):
    """How many days a kind is kept; none: as usual."""

    kind = forms.ChoiceField(choices=KeptKind.choices)
    days = forms.IntegerField(min_value=1, max_value=LONGEST_DAYS, required=False)
    reason = forms.CharField(max_length=300, required=False)
    reason_shown = forms.BooleanField(required=False)


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """What goes when, and what stays for a reason?"""
    return _page(request, viewer_of(request, Role.ADMIN))


@require_POST
@proved
def confirm(request: HttpRequest, step_id: UUID) -> HttpResponse:
    """Let go what a night counted and did not take."""
    viewer = viewer_of(request, Role.ADMIN)
    said = _("It goes now, in small steps. What is held stays.")
    return _done(request, viewer, lambda: confirm_step(viewer=viewer, step_id=step_id), said)


@require_POST
@proved
def hold(request: HttpRequest) -> HttpResponse:
    """Put a hold on what is kept of an athlete."""
    viewer = viewer_of(request, Role.ADMIN)
    form = HoldForm(request.POST)
    if not form.is_valid():
        return _page(request, viewer, _("Say whose, and in which paper file the reason lies. Nothing was changed."))
    said = _("Held: nothing of this athlete goes until the hold is lifted.")
    return _done(request, viewer, lambda: set_hold(viewer=viewer, **form.cleaned_data), said)


@require_POST
def review(request: HttpRequest, hold_id: UUID) -> HttpResponse:
    """The reason still stands."""
    viewer = viewer_of(request, Role.ADMIN)
    said = _("Kept on. It is looked at again in %(days)d days.") % {"days": DAYS_TO_REVIEW}
    return _done(request, viewer, lambda: review_hold(viewer=viewer, hold_id=hold_id), said)


@require_POST
@proved
def lift(request: HttpRequest, hold_id: UUID) -> HttpResponse:
    """The reason is gone."""
    viewer = viewer_of(request, Role.ADMIN)
    said = _("Lifted: what is over its time goes in the coming nights.")
    return _done(request, viewer, lambda: lift_hold(viewer=viewer, hold_id=hold_id), said)


@require_POST
@proved
def period(request: HttpRequest) -> HttpResponse:
    """The club's own period of one kind."""
    viewer = viewer_of(request, Role.ADMIN)
    form = PeriodForm(request.POST)
    if not form.is_valid():
        fault = _("Give a whole number of days, from 1 to %(most)d, or leave it empty. Nothing was changed.")
        return _page(request, viewer, fault % {"most": LONGEST_DAYS})
    said = _("Kept. It counts from the next night on.")
    return _done(request, viewer, lambda: set_period(viewer=viewer, **form.cleaned_data), said)


def _done(request: HttpRequest, viewer: Viewer, act: Callable[[], object], said: str) -> HttpResponse:
    """Do it and say so; a refusal stands on the page with what was typed."""
    try:
        act()
    except NotFound:
        raise
    except Refused as refusal:
        return _page(request, viewer, refusal.detail, status=refusal.status)
    messages.success(request, said)
    return redirect("keeping")


def _page(request: HttpRequest, viewer: Viewer, fault: str = "", *, status: int = 400) -> HttpResponse:
    """The page; after a fault with what was typed in the form that it came from."""
    typed = request.POST if fault else {}
    context = {
        "night": newest_night(viewer),
        "waiting": waiting_steps(viewer),
        "holds": open_holds(viewer),
        "people": athletes_visible_to(viewer),
        "days_to_review": DAYS_TO_REVIEW,
        "periods": _periods(viewer, typed),
        "gone": [(one, _what_words(one.what), LedgerLine.Why(one.why).label) for one in gone_lately(viewer)],
        "fault": fault,
        "typed": typed,
        "today": viewer.today,
        "acting_role": Role.ADMIN.label,
    }
    return render(request, "athletes/keeping.html", context, status=status if fault else 200)


def _periods(viewer: Viewer, typed: Mapping[str, str]) -> list[dict[str, object]]:
    """One line a kind: the usual days, the club's own, and what was typed last."""
    own = club_periods(viewer)
    lines = []
    for kind in kinds_with_period():
        row, is_typed = own.get(kind), typed.get("kind") == kind
        lines.append(
            {
                "kind": kind,
                "label": KeptKind(kind).label,
                "usual": PERIOD_DAYS[Purpose(kind)],
                "row": row,
                "may_be_shorter": Purpose(kind) not in NEVER_SHORTER,
                "is_open": is_typed,
                "days": typed.get("days", "") if is_typed else (row.days if row else ""),
                "reason": typed.get("reason", "") if is_typed else (row.reason if row else ""),
                "is_shown": "reason_shown" in typed if is_typed else bool(row and row.reason_shown),
            }
        )
    return lines


def _what_words(what: str) -> str | Promise:
    """The kind of data of a table; a key that nobody holds any more is told as what it is."""
    if what == DESTROYED:
        return KEY_WORDS
    keeper = keeper_named(what)
    return KeptKind(keeper.kind).label if keeper else what
