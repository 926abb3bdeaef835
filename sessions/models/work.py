"""What every piece of work that is asked of the planner has: who asked, how far it is, why it failed."""

from django.db import models

from athletes.models import Person


class AskedWork(models.Model):
    """Work of a job; `stop_wanted` is heard while it goes on, `failure` is a sentence for whoever asked."""

    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    stop_wanted = models.BooleanField(default=False)
    progress = models.JSONField(default=dict, blank=True)
    failure = models.CharField(max_length=200, blank=True)

    class Meta:
        abstract = True
