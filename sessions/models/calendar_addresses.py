"""Each person's own calendar address, and what it has told so far."""

from django.db import models

from athletes.models import ClubRow, Person
from athletes.models.noted import NotedRows


class CalendarAddress(ClubRow):
    """A secret address at which a calendar program fetches a person's own plan; the secret is kept only hashed.

    A stopped one opens nothing ever again. `answers` counts the whole answers since `hour_began_at`;
    `told_state` is the state of the plan that the lines were last brought up to.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="calendar_addresses")
    secret_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    fetched_at = models.DateTimeField(null=True, blank=True)
    hour_began_at = models.DateTimeField(null=True, blank=True)
    answers = models.PositiveSmallIntegerField(default=0)
    told_state = models.CharField(max_length=32, blank=True)

    objects = NotedRows.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person"], condition=models.Q(stopped_at__isnull=True), name="one_calendar_address_a_person"
            )
        ]

    def __str__(self) -> str:
        return f"{self.made_at}"


class CalendarLine(ClubRow):
    """What a person's calendar last told of one session; `about` is the athlete whose plan it is, none for a coach's
    own work. `uid` and `sequence` are those of RFC 5545; they go on when the address is made anew."""

    reader = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="calendar_lines")
    about = models.ForeignKey(Person, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    uid = models.UUIDField()
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()
    cancelled_at = models.DateTimeField(null=True, blank=True)
    kinds = models.CharField(max_length=60)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    place = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["reader", "uid"], name="one_calendar_line_a_session")]

    def __str__(self) -> str:
        return f"{self.uid} {self.sequence}"


class CalendarSettings(ClubRow):
    """What a club tells in its people's calendars."""

    hides_venue = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club"], name="one_calendar_settings_a_club")]

    def __str__(self) -> str:
        return f"{self.hides_venue}"
