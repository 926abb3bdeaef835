"""Jobs: the row is the truth about background work, the queue only wakes the worker."""

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _


class Job(models.Model):
    """Work to be done once; not before `due_at`; claimed by a conditional update, held by a lease that is renewed."""

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        RUNNING = "running", _("running")
        DONE = "done", _("done")
        FAILED = "failed", _("failed")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    club = models.ForeignKey("athletes.Club", on_delete=models.CASCADE, related_name="+")
    task = models.CharField(max_length=80)
    target_id = models.UUIDField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    holder = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    made_at = models.DateTimeField()
    due_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["state", "lease_until"], name="jobs_to_sweep")]

    def __str__(self) -> str:
        return f"{self.task} {self.state}"
