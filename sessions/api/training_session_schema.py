"""How training sessions and the trackside bundle are asked for and answered."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from athletes.api.acting import ActingAs
from athletes.models import ContactNumber, Person
from sessions.core.entries.kinds import PURPOSES
from sessions.core.entries.kinds import Role as PostsAs
from sessions.models import TrainingSession, Venue
from sessions.models.season import Kind
from sessions.selectors.trackside import LastWords
from sessions.words import HOW, SHOWN, session_name


class ListQuery(ActingAs):
    """The query of the list."""

    until = serializers.DateField(required=False)
    cursor = serializers.UUIDField(required=False, help_text="`next` of the page before.")

    def get_fields(self) -> dict[str, serializers.Field]:
        return super().get_fields() | {"from": serializers.DateField(required=False)}


class VenueOutput(serializers.ModelSerializer):
    class Meta:
        model = Venue
        fields = ("id", "name", "lanes", "straight_m")


class SessionOutput(serializers.ModelSerializer):
    """When, where and of which kind."""

    name = serializers.SerializerMethodField(help_text="The session's own name.")
    kind = serializers.ChoiceField(choices=Kind.choices)
    kinds = serializers.ListField(child=serializers.ChoiceField(choices=Kind.choices))
    venue = VenueOutput(allow_null=True)
    groups = serializers.PrimaryKeyRelatedField(many=True, read_only=True)

    class Meta:
        model = TrainingSession
        fields = ("id", "kind", "kinds", "name", "starts_at", "ends_at", "venue", "place", "bring", "groups", "state")

    def get_name(self, training_session: TrainingSession) -> str:
        return session_name(training_session)


class SessionsPage(serializers.Serializer):
    items = SessionOutput(many=True)
    next = serializers.UUIDField(allow_null=True)


class NumberOutput(serializers.ModelSerializer):
    class Meta:
        model = ContactNumber
        fields = ("name", "relation", "phone", "may_collect")


class LastWordsOutput(serializers.Serializer):
    words = serializers.CharField()
    how = serializers.ChoiceField(choices=list(HOW))
    day = serializers.DateField()
    when = serializers.CharField(help_text="The day, as said on the page.")
    by = serializers.CharField(help_text="Given name of who said it.")
    followed = serializers.ChoiceField(
        choices=list(SHOWN), allow_null=True, help_text="The first later stride of that session."
    )


@extend_schema_field({"type": "object", "additionalProperties": {"$ref": "#/components/schemas/LastWords"}})
class LastWordsByFeature(serializers.DictField):
    """By code of the feature."""

    child = LastWordsOutput()

    def to_representation(self, value: dict[str, LastWords]) -> dict[str, object]:
        return {code: LastWordsOutput(words).data for code, words in value.items()}


class RosterAthleteOutput(serializers.Serializer):
    """An athlete as this reader may see them; what is not allowed is null or empty."""

    person = serializers.UUIDField()
    name = serializers.CharField()
    given_name = serializers.CharField()
    is_minor = serializers.BooleanField()
    is_away = serializers.BooleanField(help_text="Said not to come.")
    out = serializers.CharField(help_text="What is possible where it is not all, never why.", allow_blank=True)
    may = serializers.ListField(child=serializers.ChoiceField(choices=PURPOSES))
    strides = serializers.IntegerField()
    rest_s = serializers.IntegerField()
    distance = serializers.CharField(help_text="How far a stride goes, in the club's unit.")
    effort = serializers.CharField(allow_blank=True)
    strides_a_feature = serializers.IntegerField(help_text="After so many strides the next point in hand.")
    at_once = serializers.IntegerField(help_text="How many of the group run at once, a lane for each.")
    features = serializers.ListField(
        child=serializers.CharField(), help_text="Codes of the features that the group looks for."
    )
    looks_last_time = serializers.IntegerField()
    points = serializers.ListField(child=serializers.CharField(), allow_null=True)
    last_words = LastWordsByFeature(allow_null=True)
    does_not_suit = serializers.DictField(
        child=serializers.ListField(child=serializers.CharField()),
        allow_null=True,
        help_text="By code of the feature, words that are no longer offered for this athlete.",
    )
    strength = serializers.CharField(allow_null=True, help_text="Code of the feature seen last as a strength.")
    numbers = NumberOutput(many=True)


class StaffOutput(serializers.Serializer):
    """A coach or helper of the session; `counts` for the club's rule of adults."""

    person = serializers.UUIDField(source="person.pk")
    name = serializers.CharField(source="person.given_name")
    phone = serializers.SerializerMethodField()
    is_helper = serializers.BooleanField()
    counts = serializers.BooleanField()

    def get_phone(self, staff: object) -> str:
        person: Person = staff.person  # type: ignore[attr-defined]
        return person.phone if staff.counts else ""  # type: ignore[attr-defined]


class FeatureOutput(serializers.Serializer):
    code = serializers.CharField()
    label = serializers.CharField()
    description = serializers.CharField(allow_blank=True)
    phrases = serializers.ListField(child=serializers.CharField())


class TracksideOutput(serializers.Serializer):
    """All that a phone beside the straight needs."""

    person = serializers.UUIDField()
    posts_as = serializers.ChoiceField(choices=[PostsAs.COACH.value, PostsAs.HELPER_UNDER_18.value])
    adults_required = serializers.IntegerField()
    emergency_number = serializers.CharField()
    health_contact = serializers.CharField(allow_blank=True)
    staff = StaffOutput(many=True)
    features = FeatureOutput(many=True)
    athletes = RosterAthleteOutput(many=True)


class OneSession(serializers.Serializer):
    session = SessionOutput()
    trackside = TracksideOutput(allow_null=True)
