"""API doorway of availability: what is possible at a training session, never why."""

from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from athletes.access import athletes_and_answers
from athletes.api.acting import ActingAs, viewer_asked
from sessions.access import get_training_session
from sessions.models import Availability as Word
from sessions.selectors.availability import latest_availability
from sessions.services.record_availability import record_availability
from teamtrack.common.api.serializers import StrictSerializer


class AvailabilityInput(StrictSerializer):
    """`option` goes with `modified` alone and says what is possible."""

    athlete = serializers.UUIDField()
    state = serializers.ChoiceField(choices=Word.State.choices)
    option = serializers.ChoiceField(choices=Word.Option.choices, required=False, default="")


class AvailabilityOutput(serializers.Serializer):
    athlete = serializers.UUIDField(source="athlete_id")
    state = serializers.CharField()
    option = serializers.CharField()
    said_as = serializers.CharField()
    said_at = serializers.DateTimeField()


class AvailabilityListOutput(serializers.Serializer):
    items = AvailabilityOutput(many=True)
    next = serializers.CharField(allow_null=True)


class Availability(APIView):
    """The last word about each athlete of a training session whose availability the reader may know."""

    @extend_schema(parameters=[ActingAs], responses=AvailabilityListOutput)
    def get(self, request: Request, session_id: UUID) -> Response:
        """By athlete; who said nothing is not in the list."""
        viewer = viewer_asked(request)
        training_session = get_training_session(viewer, session_id)
        athletes, _answers = athletes_and_answers(viewer, ("availability",))
        words = latest_availability(
            training_sessions=[training_session], athlete_ids=[athlete.pk for athlete in athletes]
        )
        items = sorted(words.values(), key=lambda word: str(word.athlete_id))
        return Response(AvailabilityListOutput({"items": items, "next": None}).data)

    @extend_schema(parameters=[ActingAs], request=AvailabilityInput, responses={201: AvailabilityOutput})
    def post(self, request: Request, session_id: UUID) -> Response:
        """Say run, modified or not today; the latest word counts."""
        viewer = viewer_asked(request)
        get_training_session(viewer, session_id)
        given = AvailabilityInput(data=request.data)
        given.is_valid(raise_exception=True)
        said = record_availability(
            viewer=viewer,
            athlete_id=given.validated_data["athlete"],
            training_session_id=session_id,
            state=given.validated_data["state"],
            option=given.validated_data["option"],
        )
        return Response(AvailabilityOutput(said.word).data, status=201)
