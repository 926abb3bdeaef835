"""What is possible on a day: run, modified, not coming, another sport; never a reason."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, Person
from sessions.core.other_sports import PartOfDay
from sessions.models.calendar import TrainingSession


class Availability(ClubRow):
    """An athlete's word, or a guardian's, or a coach's, about a stretch of time; the latest counts."""

    class State(models.TextChoices):
        RUN = "run", _("runs")
        MODIFIED = "modified", _("modified")
        NOT_TODAY = "not_today", _("not coming")

    class Option(models.TextChoices):
        FEWER = "fewer", _("fewer strides")
        SLOWER = "slower", _("at an easy pace only")
        DRILLS = "drills", _("drills only")
        WATCH = "watch", _("comes to watch")

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="availabilities")
    training_session = models.ForeignKey(
        TrainingSession, null=True, blank=True, on_delete=models.CASCADE, related_name="availabilities"
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices)
    option = models.CharField(max_length=8, choices=Option.choices, blank=True)
    said_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    said_as = models.CharField(max_length=12)
    said_at = models.DateTimeField()

    class Meta:
        ordering = ["said_at", "id"]
        indexes = [models.Index(fields=["athlete", "ends_at"], name="availability_by_athlete")]

    def __str__(self) -> str:
        return f"{self.athlete_id} {self.state}"


class OtherSport(ClubRow):
    """A training or match of another sport on one day, or on that weekday up to a last day; which sport is not asked.

    `part`: only the part of the day is known, and `starts` to `ends` is the whole of it; `minutes` is about how long.
    """

    class Effort(models.TextChoices):
        HARD = "hard", _("hard")
        MODERATE = "moderate", _("moderate")
        EASY = "easy", _("easy")

    class Part(models.TextChoices):
        MORNING = PartOfDay.MORNING.value, _("morning")
        AFTERNOON = PartOfDay.AFTERNOON.value, _("afternoon")
        EVENING = PartOfDay.EVENING.value, _("evening")

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="other_sports")
    effort = models.CharField(max_length=8, choices=Effort.choices)
    first_day = models.DateField()
    last_day = models.DateField()
    part = models.CharField(max_length=9, choices=Part.choices, blank=True)
    starts = models.TimeField()
    ends = models.TimeField()
    minutes = models.PositiveSmallIntegerField()
    said_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    said_as = models.CharField(max_length=12)
    said_at = models.DateTimeField()

    class Meta:
        ordering = ["first_day", "starts", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["athlete", "first_day", "last_day", "starts", "ends"], name="other_sport_said_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.athlete_id} {self.effort}"
