"""Squads (age or level) and event groups, with from and until."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import ClubRow, Dated
from athletes.models.noted import NotedRows
from athletes.models.people import Person


class Squad(ClubRow):
    """An age or level squad; an athlete is in one. `under` makes it an age group: of those under so many years."""

    name = models.CharField(max_length=60)
    order = models.PositiveSmallIntegerField(default=1)
    under = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["order", "name"]

    def __str__(self) -> str:
        return self.name


class EventGroup(ClubRow):
    """Sprint, hurdles, 800/1500 and so on; an athlete may be in several."""

    class Discipline(models.TextChoices):
        SPRINT = "sprint", _("sprint")
        DISTANCE = "distance", _("distance")
        YOUTH = "youth", _("youth")

    name = models.CharField(max_length=60)
    discipline = models.CharField(max_length=10, choices=Discipline.choices)
    order = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["order", "name"]

    def __str__(self) -> str:
        return self.name


class SquadMembership(ClubRow, Dated):
    """An athlete's squad in a stretch of time."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="squad_memberships")
    squad = models.ForeignKey(Squad, on_delete=models.CASCADE, related_name="memberships")

    def __str__(self) -> str:
        return f"{self.athlete_id} in {self.squad_id}"


class GroupMembership(ClubRow, Dated):
    """An athlete's event group in a stretch of time."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="group_memberships")
    group = models.ForeignKey(EventGroup, on_delete=models.CASCADE, related_name="memberships")

    objects = NotedRows.as_manager()

    class Meta:
        indexes = [models.Index(fields=["group", "first_day"], name="group_membership_by_group")]

    def __str__(self) -> str:
        return f"{self.athlete_id} in {self.group_id}"


class PeopleStep(ClubRow):
    """One change of who belongs where, so that it can be undone: which rows it made, ended or changed.

    `changes` holds, for each row, its table, its id, and its columns before and after: ids, days and codes alone.
    """

    class What(models.TextChoices):
        PLACED = "placed", _("put somebody in a group or squad, or out of it")
        ROLLED = "rolled", _("moved age groups")
        HANDED = "handed", _("handed a group to another coach")
        STAFF = "staff", _("changed what a coach or helper does")
        MEMBER = "member", _("somebody left, came back or joined")
        GUARDIAN = "guardian", _("changed guardians")

    what = models.CharField(max_length=10, choices=What.choices)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    changes = models.JSONField(default=list)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.what} {self.at}"
