"""Meets: closing day, who is entered in what, and how it went; the meet itself stands in the calendar."""

from django.db import models

from athletes.models import ClubRow, Mark, Person
from sessions.models.calendar import TrainingSession


class Meet(ClubRow):
    """What a meet has beside its place in the calendar: until when to enter, how to get there."""

    training_session = models.OneToOneField(TrainingSession, on_delete=models.CASCADE, related_name="meet")
    entries_close_on = models.DateField(null=True, blank=True)
    travel = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"{self.entries_close_on}"


class MeetEntry(ClubRow):
    """An athlete entered in one event of a meet, with the own mark the minutes of work that it is; how it went, and the
    mark that a time became."""

    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="meet_entries")
    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="meet_entries")
    event = models.CharField(max_length=40)
    own_mark = models.CharField(max_length=20, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    result = models.CharField(max_length=40, blank=True)
    mark = models.OneToOneField(Mark, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["event", "id"]
        constraints = [
            models.UniqueConstraint(fields=["training_session", "athlete", "event"], name="entered_once_an_event")
        ]

    def __str__(self) -> str:
        return f"{self.event} {self.own_mark}"
