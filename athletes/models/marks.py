"""Marks: what an athlete ran, when, how it was timed, with which wind."""

from django.db import models

from athletes.core.marks import Event
from athletes.models.club import ClubRow
from athletes.models.people import Person


class Mark(ClubRow):
    """One time of an athlete, as it was read off: the official time and what hand timing lacks are worked out."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="marks")
    event = models.CharField(max_length=8, choices=[(event.value, event.value) for event in Event])
    time_ms = models.PositiveIntegerField()
    is_hand = models.BooleanField(default=False)
    wind_tenths = models.SmallIntegerField(null=True, blank=True)
    run_on = models.DateField()
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-run_on", "event", "time_ms", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["athlete", "event", "run_on", "time_ms", "is_hand"], name="one_mark_a_day_and_time"
            )
        ]

    def __str__(self) -> str:
        return f"{self.event} {self.time_ms} ms"
