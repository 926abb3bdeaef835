"""What counts as hard: the club's own numbers, and what the Week page says of sessions that turned out hard."""

from collections.abc import Iterable, Sequence
from datetime import timedelta
from zoneinfo import ZoneInfo

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from athletes.models import EventGroup
from athletes.models.accounts import Role
from athletes.services.clubs import set_what_counts_as_hard
from athletes.viewer import viewer_of
from sessions.core.recovery import gap_h
from sessions.models.season import Kind
from sessions.selectors.reported_efforts import HardDay
from sessions.selectors.week_items import WeekItem
from sessions.week_words import kind_words, when
from teamtrack.common.web.undo import offer_undo

FRESH_AFTER_H = 48
"""Where a group's policy says nothing else: the planning contract's default (common practice, no source)."""


class HardForm(forms.Form):
    """The three numbers."""

    from_rpe = forms.IntegerField(
        label=_("Hard from an effort of"),
        help_text=_("Of 0 to 10, as the athletes log it. For that athlete alone it counts at once."),
        min_value=1,
        max_value=10,
    )
    least_reports = forms.IntegerField(
        label=_("For the whole group: from so many athletes who logged it"),
        help_text=_("The middle one of their numbers has to reach the effort. Words of the youngest are not counted."),
        min_value=3,
        max_value=50,
    )
    least_percent = forms.IntegerField(
        label=_("and from this share of those who came, in per cent"), min_value=10, max_value=100
    )


@require_http_methods(["GET", "POST"])
def what_counts_as_hard(request: HttpRequest) -> HttpResponse:
    """Read and change the club's numbers; what was typed stays where it is refused."""
    viewer = viewer_of(request, Role.HEAD_COACH)
    now = {name: getattr(viewer.club, f"hard_{name}") for name in HardForm.base_fields}
    form = HardForm(request.POST if request.method == "POST" else None, initial=now)
    if request.method == "GET" or not form.is_valid():
        return render(request, "sessions/week/hard.html", {"form": form}, status=400 if form.is_bound else 200)
    set_what_counts_as_hard(viewer=viewer, **form.cleaned_data)
    fields = {name: str(value) for name, value in now.items()}
    offer_undo(request, text=gettext("The numbers are changed."), action=reverse("head-coach-hard"), fields=fields)
    return redirect("head-coach-hard")


def no_longer_fresh(
    days: Iterable[HardDay], items: Sequence[WeekItem], groups: Iterable[EventGroup], zone: ZoneInfo
) -> list[str]:
    """A sentence for each session that turned out hard: for how many, and which technique now begins too soon."""
    fresh = {group.pk: _fresh_after(group) for group in groups}
    told = []
    for day in days:
        for item in items:
            shared = day.groups & set(item.groups)
            hours = gap_h(day.training_session.ends_at, item.starts_at)
            is_after = item.starts_at >= day.training_session.ends_at
            wanted = max((fresh.get(group, timedelta()) for group in shared), default=timedelta())
            is_too_soon = is_after and timedelta(hours=hours) < wanted
            if is_too_soon and Kind.TECHNIQUE in (item.kind, *item.also):
                told.append(f"{_said(day, zone)} {_begins(item, hours, zone)}")
    return told


def _fresh_after(group: EventGroup) -> timedelta:
    policy = group.settings.policy if hasattr(group, "settings") else {}
    return timedelta(hours=policy.get("fresh_after_h", FRESH_AFTER_H))


def _said(day: HardDay, zone: ZoneInfo) -> str:
    """How many reported what; never who."""
    one, found = day.training_session, day.hardness
    names = {
        "when": when(one.starts_at, zone),
        "groups": ", ".join(group.name for group in one.groups.all()),
        "kinds": kind_words(one.kind, one.also),
        "reports": found.reports,
        "came": found.came,
        "count": len(found.alone),
    }
    if found.is_group_hard:
        text = gettext(
            "%(groups)s, %(when)s, planned %(kinds)s, was hard by what %(reports)d of %(came)d who came logged."
        )
        return text % names
    text = ngettext(
        "%(groups)s, %(when)s, planned %(kinds)s: %(count)d athlete logged it as hard.",
        "%(groups)s, %(when)s, planned %(kinds)s: %(count)d athletes logged it as hard.",
        len(found.alone),
    )
    return text % names


def _begins(item: WeekItem, hours: int, zone: ZoneInfo) -> str:
    text = ngettext(
        "%(when)s technique begins %(hours)d h after it: no longer fresh.",
        "%(when)s technique begins %(hours)d h after it: no longer fresh.",
        hours,
    )
    return text % {"when": when(item.starts_at, zone), "hours": hours}
