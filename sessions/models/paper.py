"""Printed sheets of training sessions, and how a session was closed."""

from django.db import models

from athletes.models import ClubRow, Person
from sessions.models.calendar import TrainingSession


class PaperSheet(ClubRow):
    """A printed grid: `rows` holds for each line the athlete, the point looked for, and the number of strides."""

    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="sheets")
    number = models.PositiveIntegerField()
    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    rows = models.JSONField()

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["club", "number"], name="one_sheet_a_number")]

    def __str__(self) -> str:
        return f"{self.number}"


class SessionClosing(ClubRow):
    """A training session was closed: by whom, and how many adults and visitors were counted."""

    training_session = models.OneToOneField(TrainingSession, on_delete=models.CASCADE, related_name="closing")
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    adults = models.PositiveSmallIntegerField()
    visitors = models.PositiveSmallIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.adults}"


class SessionNote(ClubRow):
    """A line about a training session as a whole, for whoever leads it or the next; `to` is whom it is passed on to."""

    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="notes")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    to = models.ForeignKey(Person, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()
    text = models.CharField(max_length=500)

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.at}"
