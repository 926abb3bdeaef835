"""Where and with whom: venues with their hours, coaches' evenings."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, Person
from athletes.models.club import Dated
from sessions.core.running.lengths import longest_run_cm


class Weekday(models.IntegerChoices):
    """Days of the ISO week."""

    MONDAY = 1, _("Monday")
    TUESDAY = 2, _("Tuesday")
    WEDNESDAY = 3, _("Wednesday")
    THURSDAY = 4, _("Thursday")
    FRIDAY = 5, _("Friday")
    SATURDAY = 6, _("Saturday")
    SUNDAY = 7, _("Sunday")


class Venue(ClubRow):
    """A place with a straight; a run fits only if roll-in, run and run-out do."""

    class Surface(models.TextChoices):
        TRACK = "track", _("running track")
        GRASS = "grass", _("grass")
        HALL = "hall", _("hall floor")
        PATH = "path", _("path or road")
        SAND = "sand", _("sand or woodland")

    name = models.CharField(max_length=80)
    lanes = models.PositiveSmallIntegerField()
    straight_cm = models.PositiveIntegerField()
    roll_in_cm = models.PositiveIntegerField(default=2000)
    run_out_cm = models.PositiveIntegerField(default=1700)
    surface = models.CharField(max_length=8, choices=Surface.choices, default=Surface.TRACK)
    has_lights = models.BooleanField(default=True)
    is_shared = models.BooleanField(default=False)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def longest_run_cm(self) -> int:
        """The longest run that fits between roll-in and run-out."""
        return longest_run_cm(straight_cm=self.straight_cm, roll_in_cm=self.roll_in_cm, run_out_cm=self.run_out_cm)

    @property
    def straight_m(self) -> int:
        """The straight's length in whole metres, rounded down: a run must not be planned longer than it is."""
        return self.straight_cm // 100


class WallHours(models.Model):
    """A weekly stretch of wall-clock time."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday.choices)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        abstract = True


class VenueOpening(ClubRow, WallHours, Dated):
    """When a venue is open to the club each week."""

    venue = models.ForeignKey(Venue, on_delete=models.CASCADE, related_name="openings")

    def __str__(self) -> str:
        return f"{self.weekday} {self.starts}-{self.ends}"


class VenueClosing(ClubRow):
    """A stretch in which a venue is shut after all."""

    venue = models.ForeignKey(Venue, on_delete=models.CASCADE, related_name="closings")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    reason = models.CharField(max_length=80, blank=True)

    def __str__(self) -> str:
        return f"{self.starts_at} {self.reason}"


class CoachSettings(ClubRow):
    """How many sessions a day a coach takes on."""

    coach = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="coach_settings")
    max_sessions_per_day = models.PositiveSmallIntegerField(default=2)

    def __str__(self) -> str:
        return f"{self.max_sessions_per_day} a day"


class CoachEvening(ClubRow, WallHours, Dated):
    """A weekly stretch in which a coach can come."""

    coach = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="evenings")

    def __str__(self) -> str:
        return f"{self.weekday} {self.starts}-{self.ends}"


class CoachAbsence(ClubRow):
    """A stretch in which a coach cannot come after all; no reason is kept."""

    coach = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="absences")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.starts_at}"
