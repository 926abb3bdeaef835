"""The week being planned: demands, their places in the draft, proposals of the planner."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, EventGroup, Person
from sessions.models.season import Need, PatternItem
from sessions.models.venues import Venue
from sessions.models.work import AskedWork


class WeekPlan(ClubRow):
    """One ISO week of a club; `revision` grows with every change of the draft, so that nobody overwrites in silence."""

    monday = models.DateField()
    revision = models.PositiveIntegerField(default=0)
    changed_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    changed_at = models.DateTimeField(null=True, blank=True)
    published_revision = models.PositiveIntegerField(null=True, blank=True)
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "monday"], name="one_plan_a_week")]

    def __str__(self) -> str:
        return f"{self.monday:%G-W%V}"


class Demand(ClubRow, Need):
    """A session that a group needs in a week; follows from the pattern, or was added by hand."""

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="demands")
    pattern_item = models.ForeignKey(PatternItem, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    group = models.ForeignKey(EventGroup, on_delete=models.CASCADE, related_name="+")
    windows = models.JSONField(default=list)
    preferred = models.JSONField(default=list, blank=True)
    is_pinned = models.BooleanField(default=False)

    class Meta:
        ordering = ["group__order", "order", "id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.duration_min} min"


class Placement(ClubRow):
    """Where a demand lies in the draft of its week; `easier` come to an easier version instead of staying away."""

    demand = models.OneToOneField(Demand, on_delete=models.CASCADE, related_name="placement")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    venue = models.ForeignKey(Venue, on_delete=models.PROTECT, related_name="+")
    coaches = models.ManyToManyField(Person, related_name="+")
    excused = models.ManyToManyField(Person, related_name="+", blank=True)
    away = models.ManyToManyField(Person, related_name="+", blank=True)
    easier = models.ManyToManyField(Person, related_name="+", blank=True)
    reasons = models.JSONField(default=list, blank=True)

    def __str__(self) -> str:
        return f"{self.starts_at}"


class Proposal(ClubRow, AskedWork):
    """A plan that the planner made, or is making, for a week; its work is a job."""

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        RUNNING = "running", _("working")
        READY = "ready", _("ready")
        ACCEPTED = "accepted", _("accepted")
        FAILED = "failed", _("failed")
        STOPPED = "stopped", _("stopped")

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="proposals")
    based_on_revision = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    problem = models.JSONField(null=True, blank=True)
    plan = models.JSONField(null=True, blank=True)

    class Meta:
        ordering = ["-asked_at"]

    def __str__(self) -> str:
        return f"{self.state}"


class DraftStep(ClubRow):
    """One change of a week's draft: who, when, which sessions, and what lay there before, so that it can be undone.

    `before` and `after` hold, by demand, a place as the planning contract writes it, or nothing.
    """

    class What(models.TextChoices):
        MADE = "made", _("made from the season")
        ACCEPTED = "accepted", _("took over a proposal")
        MOVED = "moved", _("moved a session")
        PINNED = "pinned", _("pinned a session or let it go")
        EASIER = "easier", _("said who comes to an easier version")
        CALLED_OFF = "called_off", _("called a session off, or on again")
        UNDONE = "undone", _("undid a change")

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="steps")
    revision = models.PositiveIntegerField()
    what = models.CharField(max_length=10, choices=What.choices)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-revision"]
        constraints = [models.UniqueConstraint(fields=["week", "revision"], name="one_step_a_revision")]

    def __str__(self) -> str:
        return f"{self.revision} {self.what}"


class Publishing(ClubRow):
    """One publishing of a week: what was published before, so that it can be taken back until somebody acted on it.

    `before` holds, by demand, the published place as the planning contract writes it, or nothing; `state` what the
    week said of its last publishing.
    """

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="publishings")
    revision = models.PositiveIntegerField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    people = models.PositiveIntegerField()
    before = models.JSONField(default=dict)
    state = models.JSONField(default=dict)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "id"]

    def __str__(self) -> str:
        return f"{self.revision} {self.at}"
