"""Calendar files that were read: what they would change, what they changed, and which row came from which event."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, Person, Squad
from sessions.models.calendar import TrainingSession
from sessions.models.venues import Venue, VenueClosing


class Becomes(models.TextChoices):
    """What the events of a file become."""

    MEETS = "meets", _("meets")
    CLOSED = "closed", _("closed hours of a venue")
    BUSY = "busy", _("busy hours of athletes (school, exams)")


class BusyTime(ClubRow):
    """Hours in which a squad's athletes, or everybody's, cannot train: school, exams, a trip."""

    squad = models.ForeignKey(Squad, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    title = models.CharField(max_length=120, blank=True)

    class Meta:
        indexes = [models.Index(fields=["club", "ends_at"], name="busy_times_by_end")]
        constraints = [
            models.CheckConstraint(condition=models.Q(ends_at__gt=models.F("starts_at")), name="busy_ends_later")
        ]

    def __str__(self) -> str:
        return self.title


class CalendarReading(ClubRow):
    """One file that somebody read: first to look at, then done, then perhaps taken back.

    `changes` are those that the file asks for; once done, each with what stood there before. `refused` are the events
    that could not be read; `without_id` of those read name no id of their own.
    """

    class State(models.TextChoices):
        LOOKED_AT = "looked_at", _("to look at")
        DONE = "done", _("done")
        TAKEN_BACK = "taken_back", _("taken back")

    Becomes = Becomes

    file_name = models.CharField(max_length=120)
    becomes = models.CharField(max_length=8, choices=Becomes.choices)
    groups = models.JSONField(default=list, blank=True)
    venue = models.ForeignKey(Venue, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    squad = models.ForeignKey(Squad, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    state = models.CharField(max_length=12, choices=State.choices, default=State.LOOKED_AT)
    events = models.PositiveIntegerField()
    is_cut = models.BooleanField(default=False)
    without_id = models.PositiveIntegerField(default=0)
    refused = models.JSONField(default=list, blank=True)
    changes = models.JSONField(default=list, blank=True)
    read_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField()

    class Meta:
        ordering = ["-read_at", "-id"]

    def __str__(self) -> str:
        return self.file_name


class CalendarItem(ClubRow):
    """One occurrence of a file's event and the row it became; `scope` is what it became, of what.

    A later file that names the same event and occurrence changes that row.
    """

    scope = models.CharField(max_length=60)
    uid = models.CharField(max_length=255)
    instance = models.CharField(max_length=24, blank=True)
    sequence = models.PositiveIntegerField(default=0)
    training_session = models.ForeignKey(
        TrainingSession, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    closing = models.ForeignKey(VenueClosing, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    busy = models.ForeignKey(BusyTime, null=True, blank=True, on_delete=models.CASCADE, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "scope", "uid", "instance"], name="one_calendar_item")]

    def __str__(self) -> str:
        return f"{self.uid} {self.instance}"
