"""Coaches' assignments to groups, and their clearances."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import ClubRow, Dated
from athletes.models.groups import EventGroup
from athletes.models.noted import NotedRows
from athletes.models.people import Person


class CoachAssignment(ClubRow, Dated):
    """A coach or helper works with an event group from a first to a last day."""

    coach = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="assignments")
    group = models.ForeignKey(EventGroup, on_delete=models.CASCADE, related_name="assignments")

    objects = NotedRows.as_manager()

    class Meta:
        indexes = [models.Index(fields=["coach", "first_day"], name="assignment_by_coach")]

    def __str__(self) -> str:
        return f"{self.coach_id} with {self.group_id}"


class Clearance(ClubRow):
    """A check of a coach: seen by an admin on a day, good until another."""

    class Kind(models.TextChoices):
        BACKGROUND = "background", _("background check")
        FIRST_AID = "first_aid", _("first aid")
        LICENCE = "licence", _("coaching licence")

    coach = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="clearances")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    seen_on = models.DateField()
    expires_on = models.DateField()

    objects = NotedRows.as_manager()

    def __str__(self) -> str:
        return f"{self.kind} until {self.expires_on}"
