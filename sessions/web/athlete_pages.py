"""Pages about one athlete for coaches and the head coach: who there is, what is in hand, which words worked."""

from dataclasses import dataclass
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from athletes.models.accounts import Role
from athletes.selectors.marks import marks_of
from athletes.viewer import Viewer, viewer_of
from sessions.access import MAY_OPEN_IN_EMERGENCY, groups_set_by
from sessions.core.progress.form_history import NO_STRIDE, FeatureHistory, Seen, Words
from sessions.core.progress.unsuited import is_unsuited
from sessions.models import Feature
from sessions.selectors.athlete_list import athlete_list
from sessions.selectors.days_here import days_here
from sessions.selectors.form_history import AthleteForm, athlete_form
from sessions.selectors.unsuited import notes_of
from sessions.services.read_health_notes import read_health_notes
from sessions.services.set_focus import set_focus
from sessions.services.set_unsuited import note_unsuited, remove_unsuited
from sessions.words import HOW, PLACES, SHOWN, SHOWN_WITHIN, SIDES, UNDERSTOOD
from teamtrack.common.errors import Refused
from teamtrack.common.web.undo import offer_undo

MOST_WORDS, MOST_STRIDES = 3, 6


class FocusForm(forms.Form):
    """Which feature is taken in hand, or put aside."""

    feature = forms.UUIDField()
    in_hand = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")])


class UnsuitedForm(forms.Form):
    """Which words, or without words which point, do not suit, or do after all."""

    feature = forms.UUIDField()
    words = forms.CharField(max_length=200, required=False, strip=False)
    suits = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")])
    in_hand = forms.ChoiceField(choices=[("yes", "yes")], required=False)


@dataclass(frozen=True)
class SeenLine:
    """One judgement as the page says it."""

    seen: Seen
    word: str
    by: str

    @property
    def stride(self) -> int | None:
        return None if self.seen.place.stride == NO_STRIDE else self.seen.place.stride


@dataclass(frozen=True)
class WordsLine:
    """Words as the page says them: who, when, how, what followed."""

    words: Words
    by: str
    how: str
    understood: str
    followed: str
    is_unsuited: bool


@dataclass(frozen=True)
class FeatureCard:
    """One feature of the history."""

    label: str
    feature: Feature | None
    words: list[WordsLine]
    first_strides: list[SeenLine]
    later_strides: list[SeenLine]

    @property
    def offered(self) -> list[str]:
        """The words shown that are not noted as not suiting, each once."""
        return list(dict.fromkeys(line.words.said.words for line in self.words if not line.is_unsuited))


@require_GET
def athletes_page(request: HttpRequest, role: str) -> HttpResponse:
    """Who there is, by group, with what is in hand."""
    viewer = viewer_of(request, role)
    handed = {group.pk for group in groups_set_by(viewer)} if role == Role.COACH else set()
    context = {"groups": athlete_list(viewer=viewer), "handed": handed, "address": f"{_prefix(role)}-athlete"}
    if role == Role.HEAD_COACH:
        context["find_at"] = reverse("head-coach-people-find")
    return render(request, "sessions/athletes.html", context | {"acting_role": Role(role).label})


@require_GET
def athlete_page(request: HttpRequest, role: str, athlete_id: UUID) -> HttpResponse:
    """What is in hand, and which words worked?"""
    viewer = viewer_of(request, role)
    form = athlete_form(viewer=viewer, athlete_id=athlete_id)
    is_shown = form.may_see_health
    notes = read_health_notes(viewer=viewer, athlete_id=athlete_id, answers=form.answers) if is_shown else []
    context = {
        "athlete": form.athlete,
        "form": form,
        "cards": None if form.histories is None else [_card(history, form) for history in form.histories],
        "choices": _choices(viewer, form),
        "may_note": form.points is not None and form.may_change_points and viewer.role == Role.COACH,
        "may_put_right": viewer.role == Role.COACH and form.may_change_points,
        "notes": [
            {"note": note, "place": PLACES.get(note.place, ""), "side": SIDES.get(note.side, "")} for note in notes
        ],
        "marks": marks_of(viewer=viewer, athlete=form.athlete) if form.answers.may(athlete_id, "record") else None,
        "marks_page": reverse(f"{_prefix(role)}-marks", args=[athlete_id]),
        "emergency_at": _emergency_at(viewer, form),
        "here": days_here(viewer=viewer, athlete=form.athlete, answers=form.answers),
        "address": f"{_prefix(role)}-athletes",
        "acting_role": Role(role).label,
        "zone": viewer.club.timezone,
    }
    return render(request, "sessions/athlete.html", context)


@require_POST
def change_focus(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Take a feature in hand or put it aside, and offer to undo it."""
    viewer = viewer_of(request, Role.COACH)
    given = FocusForm(request.POST)
    if not given.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    is_in_hand = given.cleaned_data["in_hand"] == "yes"
    feature = set_focus(
        viewer=viewer, athlete_id=athlete_id, feature_id=given.cleaned_data["feature"], is_in_hand=is_in_hand
    )
    text = _("%(point)s: in hand") if is_in_hand else _("%(point)s: put aside")
    offer_undo(
        request,
        text=text % {"point": feature.label},
        action=reverse("change-focus", args=[athlete_id]),
        fields={"feature": str(feature.pk), "in_hand": "no" if is_in_hand else "yes"},
    )
    return redirect("coach-athlete", athlete_id)


@require_POST
def change_unsuited(request: HttpRequest, athlete_id: UUID) -> HttpResponse:
    """Note that words or a point do not suit, or take that back, and offer to undo it."""
    viewer = viewer_of(request, Role.COACH)
    given = UnsuitedForm(request.POST)
    if not given.is_valid():
        raise Refused("CHECK_FIELDS", _("That step could not be read. Nothing was changed."))
    words, suits = given.cleaned_data["words"], given.cleaned_data["suits"] == "yes"
    about = {"athlete_id": athlete_id, "feature_id": given.cleaned_data["feature"], "words": words}
    if suits:
        done = remove_unsuited(viewer=viewer, back_in_hand=bool(given.cleaned_data["in_hand"]), **about)
    else:
        done = note_unsuited(viewer=viewer, **about)
    text = _("%(what)s: suits after all") if suits else _("%(what)s: does not suit")
    fields = {"feature": str(done.feature.pk), "words": words, "suits": "no" if suits else "yes"}
    offer_undo(
        request,
        text=text % {"what": f"“{words}”" if words else done.feature.label},
        action=reverse("note-unsuited", args=[athlete_id]),
        fields=fields | ({"in_hand": "yes"} if done.was_in_hand else {}),
    )
    return redirect("coach-athlete", athlete_id)


def _emergency_at(viewer: Viewer, form: AthleteForm) -> str:
    """Where an adult coach of the athlete, who may not read the notes anyway, opens them in an emergency."""
    role = form.answers.found.roles[form.athlete.pk]
    if viewer.role != Role.COACH or role not in MAY_OPEN_IN_EMERGENCY or form.may_see_health:
        return ""
    return reverse("emergency", args=[Role.COACH, form.athlete.pk])


def _prefix(role: str) -> str:
    return role.replace("_", "-")


def _choices(viewer: Viewer, form: AthleteForm) -> list[tuple[Feature, bool]]:
    """Features that may be taken in hand or put aside here, with whether they are in hand."""
    if form.points is None or not form.may_change_points or viewer.role != Role.COACH:
        return []
    aside = {row.feature_id for row in form.unsuited if not row.words}
    in_use = [
        one
        for one in form.features.values()
        if (one.retired_on is None or one.retired_on > viewer.today) and one.pk not in aside
    ]
    return [(one, one in form.points) for one in in_use]


def _card(history: FeatureHistory, form: AthleteForm) -> FeatureCard:
    feature = form.features.get(history.feature)
    return FeatureCard(
        label=feature.label if feature else history.feature,
        feature=feature,
        words=[_words(one, form) for one in history.words[:MOST_WORDS]],
        first_strides=[_seen(one, form) for one in history.first_strides[:MOST_STRIDES]],
        later_strides=[_seen(one, form) for one in history.later_strides[:MOST_STRIDES]],
    )


def _words(words: Words, form: AthleteForm) -> WordsLine:
    return WordsLine(
        words=words,
        by=_name(words.said.by, form),
        how=str(HOW[words.said.how]),
        understood=str(UNDERSTOOD[words.said.understood]),
        followed=str(SHOWN_WITHIN[words.followed.shown]) if words.followed else "",
        is_unsuited=is_unsuited(notes_of(form.unsuited), words.said.feature, words.said.words),
    )


def _seen(seen: Seen, form: AthleteForm) -> SeenLine:
    return SeenLine(seen, str(SHOWN[seen.shown]), _name(seen.by, form))


def _name(coach_id: str, form: AthleteForm) -> str:
    coach = form.coaches.get(coach_id)
    return coach.given_name if coach else ""
