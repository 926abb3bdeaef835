"""How long things are kept: keys of health text, stops, holds, the nightly run, and the ledger of what was removed."""

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import Club, ClubRow
from athletes.models.noted import NotedRows
from athletes.models.people import Person


class HealthKey(ClubRow):
    """Which key seals an athlete's health text; the key itself is a file outside the database, named by this id.

    Whoever seals holds this row's lock until the commit, and so does whoever destroys the key.
    """

    athlete = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="health_key")
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.id}"


class HealthStop(ClubRow):
    """Since when nobody of the club may use an athlete's health text, though some is kept; found by the nightly run."""

    athlete = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="health_stop")
    since = models.DateField()

    def __str__(self) -> str:
        return f"{self.since}"


class KeptKind(models.TextChoices):
    """The kinds of data that have a period, as the permissions contract names them under `keep`."""

    HEALTH = "health", _("pain and injuries")
    FEEDBACK = "feedback", _("form history")
    RECORD = "record", _("names, groups and what hangs on a membership")
    PLAN = "plan", _("past sessions and plans")
    ATTENDANCE = "attendance", _("who was on a roster or came")
    LOG = "log", _("athletes' own logs")
    AVAILABILITY = "availability", _("not coming, modified")
    MESSAGE = "message", _("notices")
    CONSENT_EVIDENCE = "consent_evidence", _("old permission answers")
    AUDIT = "audit", _("names in the access log")
    INVITATION = "invitation", _("invitations")
    EXPORT = "export", _("copies that were asked for")
    SIGN_IN = "sign_in", _("sign-ins")
    BACKUP = "backup", _("backups")


class ClubPeriod(ClubRow):
    """The club's own period of a kind; a longer one counts only once its reason stands in the notice."""

    kind = models.CharField(max_length=20, choices=KeptKind.choices)
    days = models.PositiveIntegerField()
    reason = models.CharField(max_length=300, blank=True)
    reason_shown = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "kind"], name="one_period_a_kind")]

    def __str__(self) -> str:
        return f"{self.kind} {self.days}"


class Hold(ClubRow):
    """What is kept of an athlete for a legal reason though its time is up; reviewed every 90 days.

    `reference` is the name of a paper file elsewhere; what it is about is not written here.
    """

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="holds")
    reference = models.CharField(max_length=60)
    set_on = models.DateField()
    set_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    review_by = models.DateField()
    lifted_on = models.DateField(null=True, blank=True)
    lifted_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    objects = NotedRows.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["athlete"], condition=models.Q(lifted_on__isnull=True), name="one_open_hold_an_athlete"
            )
        ]

    def __str__(self) -> str:
        return f"{self.set_on}"


class KeepingRun(ClubRow):
    """One night's run: what was due on `day`, what went, what waits; begun again by whoever finds it unfinished."""

    class State(models.TextChoices):
        RUNNING = "running", _("running")
        DONE = "done", _("done")

    day = models.DateField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.RUNNING)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-day"]
        constraints = [models.UniqueConstraint(fields=["club", "day"], name="one_run_a_day")]

    def __str__(self) -> str:
        return f"{self.day}"


class KeepingStep(ClubRow):
    """One table in a run: how many rows there were, how many were due, how many went."""

    class State(models.TextChoices):
        COUNTED = "counted", _("counted")
        WAITS = "waits", _("waits for an admin")
        CONFIRMED = "confirmed", _("an admin said yes")
        DONE = "done", _("done")
        OVERTAKEN = "overtaken", _("counted anew by a later night")

    run = models.ForeignKey(KeepingRun, on_delete=models.CASCADE, related_name="steps")
    keeper = models.CharField(max_length=40)
    kind = models.CharField(max_length=20, choices=KeptKind.choices)
    total = models.PositiveIntegerField()
    due = models.PositiveIntegerField()
    removed = models.PositiveIntegerField(default=0)
    state = models.CharField(max_length=10, choices=State.choices, default=State.COUNTED)
    confirmed_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "keeper"], name="one_step_a_keeper")]

    def __str__(self) -> str:
        return f"{self.keeper} {self.removed} of {self.due}"


class LedgerLine(models.Model):
    """What was removed, or stopped: ids alone, never contents. Added to, never changed; repeated after a restore.

    `what` names a table or a kind of stop, `ids` the rows (or what a stop needs to be said again), `pseudonym` the
    athlete's of that year in the access log.
    """

    class Why(models.TextChoices):
        PERIOD = "period", _("its time was up")
        STOPPED = "stopped", _("permission had ended")
        LEFT = "left", _("had left the club")
        ASKED = "asked", _("was asked for")
        SAID = "said", _("somebody said no")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    what = models.CharField(max_length=40)
    why = models.CharField(max_length=8, choices=Why.choices)
    pseudonym = models.CharField(max_length=64, blank=True)
    ids = models.JSONField(default=list)

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.what} {self.why}"


class MonthNumbers(ClubRow):
    """A closed month's club numbers: counted once, kept without ids, never counted anew.

    `numbers` holds rows of what, group and number; a number is nothing where few people stood behind it.
    """

    month = models.DateField()
    rule = models.PositiveSmallIntegerField()
    numbers = models.JSONField(default=list)
    closed_at = models.DateTimeField()

    class Meta:
        ordering = ["-month"]
        constraints = [models.UniqueConstraint(fields=["club", "month"], name="one_closing_a_month")]

    def __str__(self) -> str:
        return f"{self.month:%Y-%m}"
