"""API doorway of the week: read it, make it from the season, ask the planner, take over, publish."""

from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from athletes.api.acting import ActingAs, viewer_asked
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from sessions.access import get_proposal, training_sessions_visible_to
from sessions.api.week_schema import (
    AcceptInput,
    ProposalOutput,
    PublishedCountOutput,
    RevisionInput,
    WeekOutput,
    demand_row,
    proposal_row,
)
from sessions.core.iso_week import IsoWeek, monday_of_label
from sessions.models import Proposal
from sessions.selectors.draft_week import DraftWeek
from sessions.selectors.proposals import standing_of
from sessions.services.accept_proposal import accept_proposal
from sessions.services.make_week import make_week
from sessions.services.propose_week import propose_week, stop_proposal
from sessions.services.publish_week import publish_week
from teamtrack.common.api.document import refusals
from teamtrack.common.api.serializers import no_body
from teamtrack.common.errors import NotFound

OF_WEEK = [ActingAs, OpenApiParameter("label", {"type": "string", "pattern": r"^\d{4}-W\d\d$"}, OpenApiParameter.PATH)]


class Week(APIView):
    """One ISO week of the club, as in 2027-W10."""

    @extend_schema(parameters=OF_WEEK, responses=WeekOutput)
    def get(self, request: Request, label: str) -> Response:
        """The head coach sees the draft and what is published; a coach what is published, as far as it is theirs."""
        viewer = viewer_asked(request)
        if viewer.role not in (Role.HEAD_COACH, Role.COACH):
            raise NotFound()
        return Response(WeekOutput(_week(viewer, _monday(label))).data)

    @extend_schema(parameters=OF_WEEK, request=None, responses=WeekOutput)
    def post(self, request: Request, label: str) -> Response:
        """Make the week's demands from the season; a second time adds only what is missing."""
        viewer, monday = viewer_asked(request), _monday(label)
        no_body(request)
        make_week(viewer=viewer, monday=monday)
        return Response(WeekOutput(_week(viewer, monday)).data)


class WeekProposals(APIView):
    """Asking the planner for a week."""

    @extend_schema(parameters=OF_WEEK, request=None, responses={202: ProposalOutput})
    def post(self, request: Request, label: str) -> Response:
        """Ask for a proposal; the same request while one is worked on, or proved already, gives that one."""
        viewer = viewer_asked(request)
        no_body(request)
        proposal = propose_week(viewer=viewer, monday=_monday(label))
        return Response(_proposal(viewer, proposal), status=202)


class OneProposal(APIView):
    """One proposal."""

    @extend_schema(parameters=[ActingAs], responses=ProposalOutput)
    def get(self, request: Request, proposal_id: UUID) -> Response:
        """How far the work is; when ready, the moves against the draft as it stands."""
        viewer = viewer_asked(request)
        return Response(_proposal(viewer, get_proposal(viewer, proposal_id)))


class ProposalStop(APIView):
    """Stopping the planner."""

    @extend_schema(parameters=[ActingAs], request=None, responses=ProposalOutput)
    def post(self, request: Request, proposal_id: UUID) -> Response:
        """Stop; the best plan so far is kept."""
        viewer = viewer_asked(request)
        no_body(request)
        return Response(_proposal(viewer, stop_proposal(viewer=viewer, proposal_id=proposal_id)))


class ProposalAccept(APIView):
    """Taking over a proposal."""

    @extend_schema(parameters=[ActingAs], request=AcceptInput, responses={200: WeekOutput} | refusals(409))
    def post(self, request: Request, proposal_id: UUID) -> Response:
        """Take over all moves or some; 409 with what changed where somebody was faster."""
        viewer, given = viewer_asked(request), _checked(AcceptInput(data=request.data))
        proposal = get_proposal(viewer, proposal_id)
        accept_proposal(viewer=viewer, proposal_id=proposal_id, revision=given["revision"], chosen=given["demands"])
        return Response(WeekOutput(_week(viewer, proposal.week.monday)).data)


class WeekPublish(APIView):
    """Publishing a week."""

    @extend_schema(parameters=OF_WEEK, request=RevisionInput, responses={200: PublishedCountOutput} | refusals(409))
    def post(self, request: Request, label: str) -> Response:
        """Publish the draft and tell whom the changes concern; 409 where the draft has moved on."""
        viewer, given = viewer_asked(request), _checked(RevisionInput(data=request.data))
        done = publish_week(viewer=viewer, monday=_monday(label), revision=given["revision"])
        row = {"sessions": done.sessions, "people": done.people, "published_revision": given["revision"]}
        return Response(PublishedCountOutput(row).data)


def _checked(given: serializers.Serializer) -> dict:
    given.is_valid(raise_exception=True)
    return given.validated_data


def _monday(label: str) -> date:
    try:
        return monday_of_label(label)
    except ValueError:
        raise NotFound() from None


def _week(viewer: Viewer, monday: date) -> dict[str, object]:
    draft = DraftWeek(viewer, monday)
    week = IsoWeek(monday, ZoneInfo(viewer.club.timezone))
    rows = training_sessions_visible_to(viewer).filter(starts_at__gte=week.starts_at, starts_at__lt=week.ends_at)
    return {
        "week": week.label,
        "revision": draft.revision,
        "published_revision": draft.plan.published_revision if draft.plan else None,
        "demands": [demand_row(demand, draft.places, draft.names) for demand in draft.demands],
        "sessions": rows.prefetch_related("groups").order_by("starts_at", "id"),
    }


def _proposal(viewer: Viewer, proposal: Proposal) -> dict[str, object]:
    draft = DraftWeek(viewer, proposal.week.monday, proposal)
    return ProposalOutput(proposal_row(standing_of(proposal), draft)).data
