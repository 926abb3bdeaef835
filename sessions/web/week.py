"""Pages of the week: the head coach's draft with the proposal beside it, and the published week for coaches."""

from collections.abc import Sequence
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.core.iso_week import IsoWeek, monday_of, monday_of_label
from sessions.models import Demand, DraftStep
from sessions.selectors.meets import groups_for_meets
from sessions.selectors.publication import publication_of
from sessions.services.accept_proposal import accept_proposal
from sessions.services.follow_season import follow_season
from sessions.services.make_week import make_week
from sessions.services.move_demand import move_demand, pin_demand, take_out_demand
from sessions.services.propose_week import propose_week, stop_proposal
from sessions.services.publish_week import Published, publish_week
from sessions.services.set_easier import set_easier
from sessions.services.undo_publishing import undo_publishing
from sessions.services.undo_step import undo_step
from sessions.web.week_forms import AcceptForm, MoveForm, RevisionForm, where_it_lies
from sessions.web.week_view import DraftView, PublishedView
from sessions.week_words import change_sentence, session_words
from teamtrack.common import words
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.web.undo import offer_undo

NOW = {Role.HEAD_COACH: "head-coach-week", Role.COACH: "coach-week"}


@require_GET
def week_now(request: HttpRequest, role: str) -> HttpResponse:
    """Lead to the week of today."""
    viewer = viewer_of(request, role)
    return redirect(NOW[Role(role)], IsoWeek(monday_of(viewer.today), ZoneInfo(viewer.club.timezone)).label)


@require_GET
def coach_week(request: HttpRequest, label: str) -> HttpResponse:
    """The published week, to read."""
    viewer = viewer_of(request, Role.COACH)
    view = PublishedView(viewer, monday_of_page(label))
    context = {"view": view, "address": "coach-week", "plans_meets": groups_for_meets(viewer)}
    return render(request, "sessions/week/published.html", context)


@require_GET
def head_coach_week(request: HttpRequest, label: str) -> HttpResponse:
    """The draft, the proposal beside it, and what to do with them."""
    return _page(request, _draft(request, label))


@require_GET
def proposal_progress(request: HttpRequest, label: str) -> HttpResponse:
    """What the page asks for every second while a proposal is worked on; at the end the whole proposal."""
    view = _draft(request, label)
    if view.proposal is not None and view.proposal.standing.is_open:
        return render(request, "sessions/week/progress.html", {"view": view})
    answer = render(request, "sessions/week/proposal.html", {"view": view})
    answer["HX-Retarget"], answer["HX-Reswap"] = "#proposal", "outerHTML"
    return answer


@require_POST
def make(request: HttpRequest, label: str) -> HttpResponse:
    """Make from season."""
    make_week(viewer=_head_coach(request), monday=monday_of_page(label))
    return _back(label)


@require_POST
def propose(request: HttpRequest, label: str) -> HttpResponse:
    """Ask the planner."""
    propose_week(viewer=_head_coach(request), monday=monday_of_page(label))
    return _back(label, "#proposal")


@require_POST
def stop(request: HttpRequest, label: str, proposal_id: UUID) -> HttpResponse:
    """Stop the planner; the best plan so far is kept."""
    stop_proposal(viewer=_head_coach(request), proposal_id=proposal_id)
    return _back(label, "#proposal")


@require_POST
def accept(request: HttpRequest, label: str, proposal_id: UUID) -> HttpResponse:
    """Accept all moves or those ticked; what was ticked stays where that is refused."""
    view = _draft(request, label)
    moves = view.proposal.moves if view.proposal and view.proposal.proposal.pk == proposal_id else []
    form = AcceptForm(request.POST, demands=[move.demand for move in moves])
    ticked = request.POST.getlist("demands")
    if not form.is_valid():
        return _page(request, view, refusal=_check_again(form), ticked=ticked)
    revision = form.cleaned_data["revision"]
    try:
        step = accept_proposal(viewer=view.viewer, proposal_id=proposal_id, revision=revision, chosen=form.chosen)
    except Refused as refusal:
        return _page(request, _draft(request, label), refusal=_shown(refusal), ticked=ticked)
    _offer_undo(request, label, step, gettext("The moves are in the draft."))
    return _back(label)


@require_POST
def undo(request: HttpRequest, label: str) -> HttpResponse:
    """Take back the last change that stands."""
    view = _draft(request, label)
    form = RevisionForm(request.POST)
    step_id = _uuid(request.POST.get("step", ""))
    if not form.is_valid():
        return _page(request, view, refusal=_check_again(form))
    try:
        undo_step(viewer=view.viewer, step_id=step_id, revision=form.cleaned_data["revision"])
    except Refused as refusal:
        return _page(request, _draft(request, label), refusal=_shown(refusal))
    messages.info(request, gettext("The last change is undone."))
    return _back(label)


@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, label: str, demand_id: UUID) -> HttpResponse:
    """Move one session by typing; broken rules are named, and what was typed stays."""
    view = _draft(request, label)
    demand = view.demand(demand_id)
    if demand is None:
        raise NotFound()
    place = view.draft.places.get(str(demand_id))
    if request.method == "GET":
        initial = where_it_lies(demand, place, view.head.week, view.revision)
        return _move_page(request, view, demand, MoveForm(initial=initial, demand=demand, week=view.head.week))
    form = MoveForm(request.POST, demand=demand, week=view.head.week)
    if not form.is_valid():
        return _move_page(request, view, demand, form)
    given = form.cleaned_data
    try:
        step = move_demand(
            viewer=view.viewer, monday=view.head.week.monday, demand_id=demand_id, revision=given["revision"],
            starts_at=form.starts_at, venue_id=given["venue"], coach_ids=given["coaches"], excuse=given["excuse"],
        )  # fmt: skip
    except Refused as refusal:
        fresh = _draft(request, label)
        return _move_page(request, fresh, demand, _with_revision(form, fresh.revision), refusal=_shown(refusal))
    _offer_undo(request, label, step, gettext("The session is moved."))
    return _back(label)


@require_POST
def take_out(request: HttpRequest, label: str, demand_id: UUID) -> HttpResponse:
    """Leave one session without a place."""
    view = _draft(request, label)
    form = RevisionForm(request.POST)
    try:
        revision = _revision(form)
        step = take_out_demand(viewer=view.viewer, monday=view.head.week.monday, demand_id=demand_id, revision=revision)
    except Refused as refusal:
        return _page(request, _draft(request, label), refusal=_shown(refusal))
    _offer_undo(request, label, step, gettext("The session is taken out."))
    return _back(label)


@require_POST
def pin(request: HttpRequest, label: str, demand_id: UUID) -> HttpResponse:
    """Pin one session, or let it go."""
    view = _draft(request, label)
    is_pinned = request.POST.get("pinned") == "yes"
    try:
        pin_demand(
            viewer=view.viewer, monday=view.head.week.monday, demand_id=demand_id,
            revision=_revision(RevisionForm(request.POST)), is_pinned=is_pinned,
        )  # fmt: skip
    except Refused as refusal:
        return _page(request, _draft(request, label), refusal=_shown(refusal))
    return _back(label, f"#s-{demand_id}")


@require_GET
def reach(request: HttpRequest, label: str) -> HttpResponse:
    """How many people publishing would reach: asked for by the page once it stands."""
    view = _draft(request, label)
    people = len(publication_of(viewer=view.viewer, week=view.draft.plan).people) if view.draft.plan else 0
    return render(request, "sessions/week/reach.html", {"view": view, "people": people})


@require_GET
def reach_all(request: HttpRequest, label: str) -> HttpResponse:
    """How many people taking the whole proposal over and publishing would reach."""
    view = _draft(request, label)
    people = view.proposal.reach if view.proposal is not None and view.proposal.is_ready else 0
    return render(request, "sessions/week/reach_all.html", {"people": people})


@require_http_methods(["GET", "POST"])
def publish(request: HttpRequest, label: str) -> HttpResponse:
    """What publishing would change and whom it reaches; then do it."""
    view = _draft(request, label)
    if view.draft.plan is None:
        raise NotFound()
    if request.method == "GET":
        return _publish_page(request, view)
    try:
        revision = _revision(RevisionForm(request.POST))
        done = publish_week(viewer=view.viewer, monday=view.head.week.monday, revision=revision)
    except Refused as refusal:
        return _publish_page(request, _draft(request, label), refusal=_shown(refusal))
    tell_published(request, label, done)
    return _back(label)


@require_POST
def undo_publish(request: HttpRequest, label: str, publishing_id: UUID) -> HttpResponse:
    """Take a publishing back that nobody has acted on."""
    try:
        undo_publishing(viewer=_head_coach(request), publishing_id=publishing_id)
    except Refused as refusal:
        return draft_page(request, label, refusal)
    messages.info(request, gettext("The publishing is undone; nobody is told anything."))
    return _back(label)


@require_POST
def follow(request: HttpRequest, label: str) -> HttpResponse:
    """Take over into the draft what the season asks for now."""
    viewer = _head_coach(request)
    try:
        follow_season(viewer=viewer, monday=monday_of_page(label), revision=revision_of(request))
    except Refused as refusal:
        return draft_page(request, label, refusal)
    messages.info(request, gettext("The week asks for what the season asks for now."))
    return _back(label)


@require_POST
def easier(request: HttpRequest, label: str, demand_id: UUID, athlete_id: UUID) -> HttpResponse:
    """Who would stay away comes to an easier version, or stays away after all."""
    is_easier = request.POST.get("easier") == "yes"
    try:
        step = set_easier(
            viewer=_head_coach(request), monday=monday_of_page(label), demand_id=demand_id, athlete_id=athlete_id,
            revision=revision_of(request), is_easier=is_easier,
        )  # fmt: skip
    except Refused as refusal:
        return draft_page(request, label, refusal)
    said = gettext("The draft says: easier version.") if is_easier else gettext("The draft says: stays away.")
    _offer_undo(request, label, step, said)
    return _back(label, f"#s-{demand_id}")


def tell_published(request: HttpRequest, label: str, done: Published) -> None:
    """How many people are told, with ten seconds to take it back; later it stands in the history."""
    text = ngettext("Published. %(count)d person is told.", "Published. %(count)d people are told.", done.people)
    text = text % {"count": done.people}
    if done.publishing is None:
        messages.info(request, text)
        return
    action = reverse("head-coach-week-undo-publish", args=[label, done.publishing.pk])
    offer_undo(request, text=text, action=action, fields={})


def revision_of(request: HttpRequest) -> int:
    """The revision that the page showed; Refused where it carries none."""
    return _revision(RevisionForm(request.POST))


def draft_page(request: HttpRequest, label: str, refusal: Refused) -> HttpResponse:
    """The draft as it stands now, with why something was not done; what is not there is no page."""
    return _page(request, _draft(request, label), refusal=_shown(refusal))


def monday_of_page(label: str) -> date:
    """The Monday of the week that an address names; what is no week is not found."""
    try:
        return monday_of_label(label)
    except ValueError:
        raise NotFound() from None


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise NotFound() from None


def _head_coach(request: HttpRequest) -> Viewer:
    return viewer_of(request, Role.HEAD_COACH)


def _draft(request: HttpRequest, label: str) -> DraftView:
    return DraftView(_head_coach(request), monday_of_page(label))


def _back(label: str, part: str = "") -> HttpResponse:
    return redirect(reverse("head-coach-week", args=[label]) + part)


def _shown(refusal: Refused) -> Refused:
    """A refusal that the page itself shows; what is not there is no page."""
    if isinstance(refusal, NotFound):
        raise refusal
    return refusal


def _revision(form: RevisionForm) -> int:
    if not form.is_valid():
        raise _check_again(form)
    return int(form.cleaned_data["revision"])


def _check_again(form: RevisionForm) -> Refused:
    fields = {name: [str(text) for text in texts] for name, texts in form.errors.items()}
    return Refused("CHECK_FIELDS", str(words.CHECK_FIELDS), fields=fields)


def _with_revision(form: MoveForm, revision: int) -> MoveForm:
    """The same typed values for the week as it stands now, so that one can go on from there."""
    form.data = form.data.copy()
    form.data["revision"] = str(revision)
    return form


def _offer_undo(request: HttpRequest, label: str, step: DraftStep, text: str) -> None:
    fields = {"step": str(step.pk), "revision": str(step.revision)}
    offer_undo(request, text=text, action=reverse("head-coach-week-undo", args=[label]), fields=fields)


def _page(
    request: HttpRequest, view: DraftView, *, refusal: Refused | None = None, ticked: Sequence[str] = ()
) -> HttpResponse:
    context = {"view": view, "address": "head-coach-week", "refusal": refusal, "ticked": ticked}
    return render(request, "sessions/week/draft.html", context, status=refusal.status if refusal else 200)


def _move_page(
    request: HttpRequest, view: DraftView, demand: Demand, form: MoveForm, *, refusal: Refused | None = None
) -> HttpResponse:
    name = session_words(demand.group.name, demand.kind, demand.also)
    context = {"view": view, "demand": demand, "name": name, "form": form, "refusal": refusal}
    status = refusal.status if refusal else 400 if form.errors else 200
    return render(request, "sessions/week/move.html", context, status=status)


def _publish_page(request: HttpRequest, view: DraftView, *, refusal: Refused | None = None) -> HttpResponse:
    assert view.draft.plan is not None
    publication = publication_of(viewer=view.viewer, week=view.draft.plan)
    found = [one.change for one in publication.changes]
    lines = [(view.draft.names.session(change.demand), change_sentence(change, view.draft.names)) for change in found]
    context = {"view": view, "lines": lines, "people": len(publication.people), "refusal": refusal}
    return render(request, "sessions/week/publish.html", context, status=refusal.status if refusal else 200)
