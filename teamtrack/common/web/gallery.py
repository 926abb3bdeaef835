"""A page that shows every component, light and dark; only where DEMO or DEBUG is on."""

from itertools import pairwise

from django import forms
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _

from teamtrack.common.web.undo import UndoOffer
from teamtrack.common.web.week_drawing import Block, DrawnWeek, Gap, GroupRow, week_drawing

KINDS = {
    "meet": _("Meet"),
    "hard": _("Hard"),
    "moderate": _("Moderate"),
    "technique": _("Technique"),
    "easy": _("Easy"),
}
SHOWN = {"held": _("Held"), "partly": _("Partly"), "not_yet": _("Not yet")}
EFFORTS = [(str(effort), str(effort)) for effort in range(11)]
ANSWERS = [("yes", _("Yes")), ("no", _("No"))]
DAYS = [_("Mon"), _("Tue"), _("Wed"), _("Thu"), _("Fri"), _("Sat"), _("Sun")]


class SampleForm(forms.Form):
    """Fields as pages use them."""

    name = forms.CharField(label=_("Name"), help_text=_("As on the roster"), max_length=20)
    day = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs={"type": "date"}))
    words = forms.CharField(label=_("My own words"), widget=forms.Textarea, required=False)
    effort = forms.ChoiceField(label=_("How hard was it?"), choices=EFFORTS, widget=forms.RadioSelect)
    answer = forms.ChoiceField(label=_("May coaches keep this?"), choices=ANSWERS, widget=forms.RadioSelect)


def sample_form(theme: str) -> SampleForm:
    """A form with one fault, its ids apart for either theme."""
    return SampleForm({f"{theme}-name": "", f"{theme}-day": "2027-03-09", f"{theme}-effort": "5"}, prefix=theme)


def _block(day: int, starts_h: int, ends_h: int, kind: str) -> Block:
    return Block(
        day=day,
        starts_min=starts_h * 60,
        ends_min=ends_h * 60,
        kind=kind,
        word=str(KINDS[kind]),
        time=f"{starts_h}–{ends_h}",
    )


def _gap(before: Block, after: Block) -> Gap:
    hours = ((after.day - before.day) * 24 * 60 + after.starts_min - before.ends_min) // 60
    return Gap(
        from_day=before.day,
        from_min=before.ends_min,
        till_day=after.day,
        till_min=after.starts_min,
        text=_("%(hours)d h") % {"hours": hours},
    )


def sample_week() -> DrawnWeek:
    """Two invented groups with every kind of session."""
    sprint = [
        _block(0, 18, 19, "technique"),
        _block(1, 18, 20, "hard"),
        _block(3, 18, 19, "technique"),
        _block(5, 10, 16, "meet"),
    ]
    youth = [_block(2, 16, 17, "technique"), _block(2, 17, 18, "moderate"), _block(4, 17, 18, "easy")]
    gaps = [_gap(before, after) for before, after in pairwise(sprint)]
    rows = [
        GroupRow(name=str(_("Sprint")), blocks=sprint, gaps=gaps),
        GroupRow(name=str(_("Youth A")), blocks=youth, gaps=[_gap(youth[1], youth[2])]),
    ]
    return week_drawing(days=[str(day) for day in DAYS], rows=rows)


@login_not_required
def gallery(request: HttpRequest) -> HttpResponse:
    """Every component in both themes."""
    if not (settings.DEMO or settings.DEBUG):
        raise Http404
    tabs = [{"label": _("Order"), "href": "#", "is_current": True}, {"label": _("By round"), "href": "#"}]
    panes = [
        {"theme": theme, "title": title, "form": sample_form(theme)}
        for theme, title in (("light", _("Light")), ("dark", _("Dark")))
    ]
    undo = UndoOffer(text=str(_("Thu 18:00: not coming")), action="#", fields={"id": "1"})
    return render(
        request,
        "gallery.html",
        {"panes": panes, "kinds": KINDS, "shown": SHOWN, "tabs": tabs, "week": sample_week(), "undo": undo},
    )
