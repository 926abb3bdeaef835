"""API doorway of an athlete's form history: the same answer as the Athlete page."""

from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from athletes.api.acting import ActingAs, viewer_asked
from sessions.core.progress.form_history import NO_STRIDE, FeatureHistory, Seen, Words
from sessions.selectors.form_history import AthleteForm, athlete_form
from sessions.services.read_health_notes import HealthNote, read_health_notes
from sessions.words import HOW, PLACES, SHOWN, SIDES, UNDERSTOOD


class SeenOutput(serializers.Serializer):
    """What a coach saw on a stride."""

    session = serializers.CharField(source="place.session")
    starts_at = serializers.DateTimeField(source="place.starts_at")
    stride = serializers.SerializerMethodField()
    by = serializers.CharField()
    shown = serializers.ChoiceField(choices=list(SHOWN))

    def get_stride(self, seen: Seen) -> int | None:
        return None if seen.place.stride == NO_STRIDE else seen.place.stride


class WordsOutput(serializers.Serializer):
    """Words with the first judgement that followed in that session."""

    session = serializers.CharField(source="said.place.session")
    starts_at = serializers.DateTimeField(source="said.place.starts_at")
    stride = serializers.SerializerMethodField()
    by = serializers.CharField(source="said.by")
    words = serializers.CharField(source="said.words")
    how = serializers.ChoiceField(choices=list(HOW), source="said.how")
    understood = serializers.ChoiceField(choices=list(UNDERSTOOD), source="said.understood")
    followed = SeenOutput(allow_null=True)

    def get_stride(self, words: Words) -> int | None:
        return None if words.said.place.stride == NO_STRIDE else words.said.place.stride


class FeatureHistoryOutput(serializers.Serializer):
    """One feature, newest first; first strides are learning, later ones performance."""

    feature = serializers.CharField()
    words = WordsOutput(many=True)
    first_strides = SeenOutput(many=True)
    later_strides = SeenOutput(many=True)


class HealthNoteOutput(serializers.Serializer):
    """Where it hurt."""

    session = serializers.UUIDField(source="training_session.pk")
    starts_at = serializers.DateTimeField(source="training_session.starts_at")
    by = serializers.CharField(source="by.pk")
    place = serializers.ChoiceField(choices=list(PLACES))
    side = serializers.ChoiceField(choices=list(SIDES), allow_blank=True)
    words = serializers.CharField(allow_blank=True)


class FormHistoryOutput(serializers.Serializer):
    """Null: this reader may not see it, or nothing is recorded."""

    athlete = serializers.UUIDField()
    name = serializers.CharField()
    points = serializers.ListField(child=serializers.CharField(), allow_null=True)
    features = FeatureHistoryOutput(many=True, allow_null=True)
    health = HealthNoteOutput(many=True, allow_null=True)


class FormHistory(APIView):
    """An athlete's form history."""

    @extend_schema(parameters=[ActingAs], responses=FormHistoryOutput)
    def get(self, request: Request, athlete_id: UUID) -> Response:
        """By feature, newest first; a read of health notes is logged before it is sent."""
        viewer = viewer_asked(request)
        form = athlete_form(viewer=viewer, athlete_id=athlete_id)
        is_shown = form.may_see_health
        notes = read_health_notes(viewer=viewer, athlete_id=athlete_id, answers=form.answers) if is_shown else []
        return Response(FormHistoryOutput(_content(form, form.histories, notes)).data)


def _content(
    form: AthleteForm, histories: tuple[FeatureHistory, ...] | None, notes: list[HealthNote]
) -> dict[str, object]:
    return {
        "athlete": form.athlete.pk,
        "name": form.athlete.full_name,
        "points": None if form.points is None else [feature.code for feature in form.points],
        "features": histories,
        "health": notes or None,
    }
