"""API doorway of permissions: the questions to the signed-in person about an athlete, answers and stops."""

from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from athletes.access import get_athlete_asked_about
from athletes.api.acting import ActingAs, viewer_asked
from athletes.models import PermissionEvent
from athletes.selectors.permission_questions import Question, permission_questions
from athletes.services.record_permission import answer_permission, withdraw_permission
from athletes.viewer import Viewer
from teamtrack.common.api.serializers import StrictSerializer


class AnswerInput(StrictSerializer):
    """One answer: yes or no, or `withdrawn` to stop what was allowed."""

    purpose = serializers.CharField(max_length=12)
    answer = serializers.ChoiceField(choices=PermissionEvent.Answer.choices)
    recipients = serializers.ListField(child=serializers.UUIDField(), required=False, max_length=50)


class AnswerOutput(serializers.Serializer):
    id = serializers.UUIDField()
    purpose = serializers.CharField()
    answer = serializers.CharField()
    at = serializers.DateTimeField()
    until = serializers.DateTimeField(allow_null=True)


class RecipientOutput(serializers.Serializer):
    person = serializers.UUIDField(source="pk")
    name = serializers.CharField(source="full_name")


class QuestionOutput(serializers.Serializer):
    """A question in its wording, the own answer (null: none yet), what may be said now, and whom a yes names."""

    purpose = serializers.CharField()
    question = serializers.CharField(source="wording.question")
    explanation = serializers.CharField(source="wording.explanation")
    wording_version = serializers.IntegerField(source="wording.version")
    own = AnswerOutput(allow_null=True)
    may_answer = serializers.BooleanField(source="may_answer.may")
    answer_code = serializers.CharField(source="may_answer.code")
    may_stop = serializers.BooleanField(source="may_stop.may")
    recipients = RecipientOutput(many=True)


class QuestionsOutput(serializers.Serializer):
    items = QuestionOutput(many=True)
    next = serializers.CharField(allow_null=True)


class Permissions(APIView):
    """What the signed-in person is asked, and has answered, about one athlete."""

    @extend_schema(parameters=[ActingAs], responses=QuestionsOutput)
    def get(self, request: Request, athlete_id: UUID) -> Response:
        """The questions, in a fixed order."""
        viewer = viewer_asked(request)
        athlete, answers = get_athlete_asked_about(viewer, athlete_id)
        questions: list[Question] = permission_questions(asked=answers.found, athlete=athlete)
        return Response(QuestionsOutput({"items": questions, "next": None}).data)

    @extend_schema(parameters=[ActingAs], request=AnswerInput, responses={201: AnswerOutput})
    def post(self, request: Request, athlete_id: UUID) -> Response:
        """Answer one question, or stop what was allowed; in force from the next request on."""
        viewer = viewer_asked(request)
        get_athlete_asked_about(viewer, athlete_id)
        given = AnswerInput(data=request.data)
        given.is_valid(raise_exception=True)
        event = _recorded(viewer, athlete_id, **given.validated_data)
        return Response(AnswerOutput(event).data, status=201)


def _recorded(
    viewer: Viewer, athlete_id: UUID, *, purpose: str, answer: str, recipients: tuple[UUID, ...] = ()
) -> PermissionEvent:
    if answer == PermissionEvent.Answer.WITHDRAWN:
        return withdraw_permission(viewer=viewer, athlete_id=athlete_id, purpose=purpose)
    return answer_permission(
        viewer=viewer, athlete_id=athlete_id, purpose=purpose, answer=answer, recipient_ids=recipients
    )
