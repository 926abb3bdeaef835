"""A rehearsal of a season: every week's pattern solved before it comes."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow
from sessions.models.season import SeasonPlan
from sessions.models.work import AskedWork


class Rehearsal(ClubRow, AskedWork):
    """What the planner found, or is finding, about the weeks of a season; its work is a job.

    `progress`: how far it is; `result`: the verdict on every week and the change that helps most of them, as
    `sessions.core.rehearsal` writes them. `wanted`: the season as somebody thinks of changing it, at
    `revision`; then only the weeks that change are solved.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        RUNNING = "running", _("working")
        READY = "ready", _("ready")
        FAILED = "failed", _("failed")
        STOPPED = "stopped", _("stopped")

    season = models.ForeignKey(SeasonPlan, on_delete=models.CASCADE, related_name="rehearsals")
    ended_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    result = models.JSONField(null=True, blank=True)
    wanted = models.JSONField(null=True, blank=True)
    revision = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-asked_at"]

    def __str__(self) -> str:
        return f"{self.state}"
