"""Emergency access: pain notes opened for half an hour because the athlete could not answer."""

from django.db import models

from athletes.models import ClubRow, Person
from athletes.models.noted import NotedRows


class EmergencyAccess(ClubRow):
    """Who opened whose pain notes, in which role, why in their own words, and until when; `ended_at`: closed before.

    The reason is what the family reads; the access log holds the act, never the words.
    """

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    opened_as = models.CharField(max_length=20)
    reason = models.CharField(max_length=200)
    opened_at = models.DateTimeField()
    until = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = NotedRows.as_manager()

    class Meta:
        ordering = ["-opened_at", "id"]
        indexes = [models.Index(fields=["club", "opened_at"], name="emergencies_by_time")]

    def __str__(self) -> str:
        return f"{self.opened_at}"
