"""The club, and what every row of a club has."""

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.noted import NotedRows


class Club(models.Model):
    """One club; a server holds one or more and nothing crosses."""

    class Distance(models.TextChoices):
        METRES = "m", _("metres")
        YARDS = "yd", _("yards")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    timezone = models.CharField(max_length=64)
    country = models.CharField(max_length=2)
    distance_unit = models.CharField(max_length=2, choices=Distance.choices, default=Distance.METRES)
    emergency_number = models.CharField(max_length=20)
    adults_required = models.PositiveSmallIntegerField(default=2)
    us_rule = models.BooleanField(default=False)
    health_contact = models.CharField(max_length=120, blank=True)
    hard_from_rpe = models.PositiveSmallIntegerField(default=7)
    hard_least_reports = models.PositiveSmallIntegerField(default=3)
    hard_least_percent = models.PositiveSmallIntegerField(default=50)
    second_factor_from = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class ClubRow(models.Model):
    """A row that belongs to one club, with a random public id."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="+")

    class Meta:
        abstract = True


class Dated(models.Model):
    """In force from a first day up to and with a last one, or open."""

    first_day = models.DateField()
    last_day = models.DateField(null=True, blank=True)

    class Meta:
        abstract = True


class DigitalAge(ClubRow):
    """From which age a child answers online by itself, by country, as the club has checked it."""

    country = models.CharField(max_length=2)
    age = models.PositiveSmallIntegerField()
    joint = models.BooleanField(default=False)
    valid_from = models.DateField()
    source = models.CharField(max_length=200)
    checked_on = models.DateField(null=True, blank=True)

    objects = NotedRows.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["club", "country", "valid_from"], name="one_digital_age_a_day"),
            models.CheckConstraint(condition=models.Q(age__gte=13, age__lte=18), name="digital_age_13_to_18"),
        ]

    def __str__(self) -> str:
        return f"{self.country} {self.age}"
