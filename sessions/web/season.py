"""Pages of the season: the strip of weeks, a new season, the rehearsal, what a change would do, paper."""

from datetime import date, timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.dates import WEEKDAYS_ABBR
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.access import get_rehearsal, get_season
from sessions.core.iso_week import monday_of
from sessions.core.load_advice import TAPER_WEEKS
from sessions.models import Phase, Rehearsal, SeasonPlan
from sessions.selectors.public_holidays import public_holidays
from sessions.selectors.rehearsals import latest_rehearsal
from sessions.selectors.season_documents import season_document, seasons_of, steps_of, undoable_season_step
from sessions.selectors.season_strip import PhasePattern, SeasonStrip, season_strip
from sessions.services.change_season import (
    change_season,
    copied_document,
    make_season,
    remove_season,
    starter_document,
    undo_season,
)
from sessions.services.rehearse_season import rehearse_season, stop_rehearsal
from sessions.web.beside_season import views_left_behind
from sessions.web.rehearsal_view import RehearsalView
from sessions.web.season_forms import STARTER_WORDS, SeasonForm
from sessions.web.season_picture import season_picture
from sessions.week_words import kind_words, when
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

USUAL_WEEKS = 40
KEPT_AFTER = timedelta(weeks=60)


@require_GET
def season_page(request: HttpRequest, season_id: UUID | None = None) -> HttpResponse:
    """The weeks of a season in their phases, and each group's weekly pattern; the season of today if none is named."""
    viewer = _head_coach(request)
    season = get_season(viewer, season_id) if season_id else None
    return _page(request, viewer, season)


@require_http_methods(["GET", "POST"])
def new_season(request: HttpRequest) -> HttpResponse:
    """Make a season after a starter, or copy one."""
    viewer = _head_coach(request)
    seasons = seasons_of(viewer=viewer)
    form = SeasonForm(request.POST or None, seasons=seasons, initial=_first_values(viewer, seasons))
    refusal = None
    if form.is_valid():
        given = form.cleaned_data
        told = {"name": given["name"], "first_monday": given["first_monday"]}
        if given["begin_with"] in STARTER_WORDS:
            document = starter_document(viewer=viewer, starter=given["begin_with"], weeks=given["weeks"], **told)
        else:
            document = copied_document(season=get_season(viewer, UUID(given["begin_with"])), **told)
        try:
            season = make_season(viewer=viewer, document=document)
        except Refused as refused:
            refusal = refused
        else:
            undo = reverse("season-remove", args=[season.pk])
            offer_undo(request, text=_("The season is made."), action=undo, fields={"revision": str(season.revision)})
            return redirect("season-of", season.pk)
    context = {"form": form, "refusal": refusal}
    status = refusal.status if refusal else 400 if form.errors else 200
    return render(request, "sessions/season/new.html", context, status=status)


@require_POST
def remove(request: HttpRequest, season_id: UUID) -> HttpResponse:
    """Take back a season that was only just made."""
    viewer = _head_coach(request)
    season = get_season(viewer, season_id)
    try:
        remove_season(viewer=viewer, season_id=season_id, revision=revision_of(request))
    except Refused as refusal:
        return _page(request, viewer, season, refusal=shown(refusal))
    messages.info(request, _("The season is taken away."))
    return redirect("season")


@require_POST
def undo(request: HttpRequest, season_id: UUID) -> HttpResponse:
    """Take back the last change that stands."""
    viewer = _head_coach(request)
    season = get_season(viewer, season_id)
    try:
        step_id = UUID(request.POST.get("step", ""))
        undo_season(viewer=viewer, season_id=season_id, step_id=step_id, revision=revision_of(request))
    except ValueError:
        raise NotFound() from None
    except Refused as refusal:
        return _page(request, viewer, season, refusal=shown(refusal))
    messages.info(request, _("The last change is undone."))
    return redirect("season-of", season_id)


@require_http_methods(["GET", "POST"])
def rehearsal(request: HttpRequest, season_id: UUID) -> HttpResponse:
    """Ask for the rehearsal of the whole season, see how far it is and what was found."""
    viewer = _head_coach(request)
    season = get_season(viewer, season_id)
    refusal = None
    if request.method == "POST":
        try:
            rehearse_season(viewer=viewer, season=season)
            return redirect("season-rehearsal", season_id)
        except Refused as refused:
            refusal = shown(refused)
    latest = latest_rehearsal(viewer=viewer, season=season)
    view = RehearsalView(viewer, latest.rehearsal, [season_document(season=season)]) if latest else None
    context = {"season": season, "view": view, "refusal": refusal, "asked_at": _asked_at(viewer, view)}
    return render(request, "sessions/season/rehearsal.html", context, status=refusal.status if refusal else 200)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, season_id: UUID, rehearsal_id: UUID) -> HttpResponse:
    """What a change would do to every week; then save it or leave it."""
    viewer = _head_coach(request)
    season = get_season(viewer, season_id)
    asked = _wanted(viewer, season_id, rehearsal_id)
    refusal = None
    if request.method == "POST":
        try:
            step = change_season(viewer=viewer, season_id=season_id, revision=asked.revision, wanted=asked.wanted)
        except Refused as refused:
            refusal = shown(refused)
        else:
            offer_season_undo(request, season_id, str(step.pk), step.revision)
            return redirect("season-of", season_id)
    view = RehearsalView(viewer, asked, [season_document(season=season), asked.wanted])
    context = {"season": season, "view": view, "refusal": refusal, "is_old": asked.revision != season.revision}
    return render(request, "sessions/season/change.html", context, status=refusal.status if refusal else 200)


@require_GET
def progress(request: HttpRequest, season_id: UUID, rehearsal_id: UUID) -> HttpResponse:
    """What a page asks for while the planner works; at the end the page is opened anew."""
    viewer = _head_coach(request)
    found = get_rehearsal(viewer, rehearsal_id)
    if found.season_id != season_id:
        raise NotFound()
    documents = [season_document(season=found.season)] + ([found.wanted] if found.wanted else [])
    view = RehearsalView(viewer, found, documents)
    answer = render(request, "sessions/season/working.html", {"season": found.season, "view": view})
    if not view.is_open:
        answer["HX-Refresh"] = "true"
    return answer


@require_POST
def stop(request: HttpRequest, season_id: UUID, rehearsal_id: UUID) -> HttpResponse:
    """Stop the planner; what was found is kept."""
    viewer = _head_coach(request)
    found = stop_rehearsal(viewer=viewer, rehearsal_id=rehearsal_id)
    if found.wanted is not None:
        return redirect("season-change", season_id, rehearsal_id)
    return redirect("season-rehearsal", season_id)


@require_GET
def paper(request: HttpRequest, season_id: UUID) -> HttpResponse:
    """The season on one page."""
    viewer = _head_coach(request)
    season = get_season(viewer, season_id)
    strip = season_strip(viewer=viewer, season=season)
    assert strip is not None
    context = {
        "strip": strip,
        "picture": season_picture(strip),
        "patterns": _patterns(strip),
        "printed_on": viewer.today,
        "printed_by": viewer.person.full_name,
        "destroy_after": season.first_monday + KEPT_AFTER,
    }
    return render(request, "sessions/season/paper.html", context)


def offer_season_undo(request: HttpRequest, season_id: UUID, step_id: str, revision: int) -> None:
    """Ten seconds, and later the page's own button, to take a change back."""
    fields = {"step": step_id, "revision": str(revision)}
    offer_undo(
        request, text=_("The season is changed."), action=reverse("season-undo", args=[season_id]), fields=fields
    )


def revision_of(request: HttpRequest) -> int:
    """The revision that the page showed."""
    text = request.POST.get("revision", "")
    if not (text.isascii() and text.isdecimal() and len(text) < 9):
        raise Refused("CHECK_FIELDS", _("This page is out of date. Nothing was changed; look at it and save again."))
    return int(text)


def shown(refusal: Refused) -> Refused:
    """A refusal that the page itself shows; what is not there is no page."""
    if isinstance(refusal, NotFound):
        raise refusal
    return refusal


def _wanted(viewer: Viewer, season_id: UUID, rehearsal_id: UUID) -> Rehearsal:
    found = get_rehearsal(viewer, rehearsal_id)
    if found.season_id != season_id or found.wanted is None:
        raise NotFound()
    return found


def _page(
    request: HttpRequest, viewer: Viewer, season: SeasonPlan | None, *, refusal: Refused | None = None
) -> HttpResponse:
    strip = season_strip(viewer=viewer, season=season)
    seasons = seasons_of(viewer=viewer)
    context = {"strip": strip, "refusal": refusal, "seasons": seasons}
    if strip is not None:
        season = strip.season
        last = strip.weeks[-1].week.sunday
        days = public_holidays(country=viewer.club.country, first=season.first_monday, last=last)
        context |= {
            "picture": season_picture(strip),
            "coming_weeks": [one for one in strip.weeks if one.week.sunday >= viewer.today],
            "gone_weeks": [one for one in strip.weeks if one.week.sunday < viewer.today],
            "patterns": _patterns(strip),
            "season": season,
            "step": undoable_season_step(season=season),
            "steps": [(step, when(step.at, viewer.now.tzinfo)) for step in steps_of(season=season)],
            "holidays": [(one, (one.day - season.first_monday).days // 7 + 1) for one in days],
            "untapered": _untapered(strip),
            "left_behind": views_left_behind(viewer, season),
            "others": [one for one in seasons if one.pk != season.pk],
        }
    return render(request, "sessions/season.html", context, status=refusal.status if refusal else 200)


def _untapered(strip: SeasonStrip) -> list[tuple[str, int, date, Phase]]:
    """Main meets without a taper in the two weeks up to them: the meet, the taper's first week and its Monday, the
    phase there."""
    found = []
    for week in strip.weeks:
        first = week.number - TAPER_WEEKS + 1
        before = strip.weeks[first - 1] if first > 1 else None
        if (
            week.meets
            and before is not None
            and before.phase is not None
            and _may_become_taper(before.phase, week.phase)
        ):
            found.append((str(week.meets[0]), first, before.week.monday, before.phase))
    return found


def _may_become_taper(before: Phase, own: Phase | None) -> bool:
    return Phase.Aim.TAPER not in (before.aim, own.aim if own else "")


def _first_values(viewer: Viewer, seasons: list[SeasonPlan]) -> dict[str, object]:
    """A season that follows the latest one, or begins with the next week."""
    monday = monday_of(viewer.today) + timedelta(days=7)
    if seasons:
        monday = max(monday, seasons[0].first_monday + timedelta(weeks=seasons[0].weeks))
    name = _("Season %(year)s") % {"year": monday.year}
    return {"name": name, "first_monday": monday, "weeks": USUAL_WEEKS, "begin_with": next(iter(STARTER_WORDS))}


def _asked_at(viewer: Viewer, view: RehearsalView | None) -> str:
    return when(view.rehearsal.asked_at, viewer.now.tzinfo) if view else ""


def _head_coach(request: HttpRequest) -> Viewer:
    return viewer_of(request, Role.HEAD_COACH)


def _patterns(strip: SeasonStrip | None) -> list[tuple[PhasePattern, list[tuple[str, list[dict[str, object]]]]]]:
    """Each phase's pattern with its sessions in words."""
    return (
        [(pattern, [(group, _lines(items)) for group, items in pattern.groups]) for pattern in strip.patterns]
        if strip
        else []
    )


def _lines(items: tuple) -> list[dict[str, object]]:
    return [
        {
            "kind": item.kind,
            "words": kind_words(item.kind, item.also),
            "minutes": item.duration_min,
            "weekday": WEEKDAYS_ABBR[item.usual_weekday - 1] if item.usual_weekday else "",
            "starts": item.usual_from,
        }
        for item in items
    ]
