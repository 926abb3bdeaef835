"""API doorway of training sessions: the list, and one with all that a phone beside the straight needs."""

from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from athletes.api.acting import ActingAs, viewer_asked
from athletes.models.accounts import Role
from athletes.viewer import Viewer, viewer_of
from sessions.access import get_led_session, get_training_session, training_sessions_visible_to
from sessions.api.training_session_schema import ListQuery, OneSession, SessionsPage
from sessions.models import TrainingSession
from sessions.selectors.sessions_page import sessions_page
from sessions.selectors.trackside import Trackside, trackside
from teamtrack.common.api.serializers import checked
from teamtrack.common.errors import NotFound


class TrainingSessions(APIView):
    """The training sessions that the signed-in person may know of."""

    @extend_schema(operation_id="sessions_list", parameters=[ListQuery], responses=SessionsPage)
    def get(self, request: Request) -> Response:
        """In order of time, from `from` up to and with `until` (days of the club); today and later if not said."""
        asked = checked(ListQuery, request)
        viewer = viewer_of(request._request, asked.get("as"))
        page = sessions_page(
            viewer=viewer,
            visible=training_sessions_visible_to(viewer),
            first_day=asked.get("from", viewer.today),
            last_day=asked.get("until"),
            after=asked.get("cursor"),
        )
        return Response(SessionsPage(page).data)


class OneTrainingSession(APIView):
    """One training session."""

    @extend_schema(parameters=[ActingAs], responses=OneSession)
    def get(self, request: Request, session_id: UUID) -> Response:
        """When, where, of which kind; `trackside` holds the bundle for a coach or helper on its list, else null."""
        viewer = viewer_asked(request)
        training_session = get_training_session(viewer, session_id)
        bundle = _bundle(viewer, session_id) if viewer.role == Role.COACH else None
        return Response(OneSession(_one(training_session, bundle)).data)


def _bundle(viewer: Viewer, session_id: UUID) -> Trackside | None:
    try:
        part = get_led_session(viewer, session_id)
    except NotFound:
        return None
    return trackside(part=part)


def _one(training_session: TrainingSession, bundle: Trackside | None) -> dict[str, object]:
    return {"session": training_session, "trackside": bundle}
