"""The published calendar: training sessions and meets, who leads and who comes."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, EventGroup, Person
from athletes.models.noted import NotedRows
from sessions.models.plan_changes import PlanRows, note_changes_of
from sessions.models.season import Kind
from sessions.models.venues import Venue
from sessions.models.week import Demand


class SessionState(models.TextChoices):
    """Whether a training session takes place."""

    PUBLISHED = "published", _("published")
    CALLED_OFF = "called_off", _("called off")


class TrainingSession(ClubRow):
    """One block of training, or a meet, as athletes see it. Entries hang on it, so it keeps its id when it moves."""

    State = SessionState

    class Importance(models.TextChoices):
        MAIN = "main", _("main")
        ORDINARY = "ordinary", _("ordinary")
        TRAINING = "training", _("in training")

    demand = models.OneToOneField(
        Demand, null=True, blank=True, on_delete=models.SET_NULL, related_name="training_session"
    )
    kind = models.CharField(max_length=10, choices=Kind.choices)
    also = models.JSONField(default=list, blank=True)
    title = models.CharField(max_length=120, blank=True)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    venue = models.ForeignKey(Venue, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    place = models.CharField(max_length=120, blank=True)
    lanes = models.PositiveSmallIntegerField(null=True, blank=True)
    load_min = models.PositiveSmallIntegerField(null=True, blank=True)
    bring = models.CharField(max_length=200, blank=True)
    importance = models.CharField(max_length=10, choices=Importance.choices, blank=True)
    groups = models.ManyToManyField(EventGroup, related_name="training_sessions")
    state = models.CharField(max_length=10, choices=State.choices, default=State.PUBLISHED)
    changed_at = models.DateTimeField(null=True, blank=True)
    change_words = models.CharField(max_length=300, blank=True)
    last_seq = models.PositiveBigIntegerField(default=0)

    objects = PlanRows.as_manager()

    class Meta:
        ordering = ["starts_at", "id"]
        indexes = [models.Index(fields=["club", "starts_at"], name="training_session_by_start")]
        constraints = [
            models.CheckConstraint(condition=models.Q(ends_at__gt=models.F("starts_at")), name="ends_after_it_starts"),
        ]

    def __str__(self) -> str:
        return self.title or self.get_kind_display()

    @property
    def kinds(self) -> tuple[str, ...]:
        return (self.kind, *self.also)

    @property
    def is_called_off(self) -> bool:
        return self.state == self.State.CALLED_OFF


class SessionCoach(ClubRow):
    """A coach or helper of one training session; `last_day` is set for who was taken off it."""

    class Part(models.TextChoices):
        COACH = "coach", _("coach")
        HELPER = "helper", _("helper")

    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="session_coaches")
    coach = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="session_coaches")
    part = models.CharField(max_length=8, choices=Part.choices, default=Part.COACH)
    taken_off_at = models.DateTimeField(null=True, blank=True)

    objects = NotedRows.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["training_session", "coach"], name="coach_once_a_session")]
        indexes = [models.Index(fields=["coach"], name="session_coach_by_coach")]

    def __str__(self) -> str:
        return f"{self.coach_id} {self.part}"


class SessionAthlete(ClubRow):
    """An athlete on a training session's roster, and how they come to it."""

    class Comes(models.TextChoices):
        WHOLE = "whole", _("comes")
        EASIER = "easier", _("easier version")
        AWAY = "away", _("away")

    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="session_athletes")
    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="session_athletes")
    comes = models.CharField(max_length=8, choices=Comes.choices, default=Comes.WHOLE)
    seen_at = models.DateTimeField(null=True, blank=True)

    objects = PlanRows.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["training_session", "athlete"], name="athlete_once_a_session")]
        indexes = [models.Index(fields=["athlete"], name="session_athlete_by_athlete")]

    def __str__(self) -> str:
        return f"{self.athlete_id} {self.comes}"


class RosterLeaver(ClubRow):
    """An athlete who was taken off a training session's roster: may still send what the phone holds, not read."""

    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="roster_leavers")
    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    taken_off_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["training_session", "athlete"], name="leaver_once_a_session")]

    def __str__(self) -> str:
        return f"{self.athlete_id} {self.taken_off_at}"


note_changes_of(TrainingSession, "kind", "also", "starts_at", "ends_at", "venue", "place", "state")
note_changes_of(SessionCoach, "coach", "taken_off_at", "training_session")
note_changes_of(SessionAthlete, "athlete", "comes", "training_session")
note_changes_of(Venue, "name")
