"""A roster file that was read in, or a person typed by hand: what it would change, what was chosen, what it changed."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import ClubRow
from athletes.models.people import Person


class RosterFile(ClubRow):
    """One file on its way in. Its work is a job; it goes with what it holds after the period of invitations.

    `content` are the file's bytes, emptied once applied; `options` what was said about the whole file, `choices` about
    single rows; `preview` what would change; `made` which rows were made and changed, so that it can be undone.
    """

    class State(models.TextChoices):
        READING = "reading", _("is being read")
        READY = "ready", _("waits for an answer")
        APPLYING = "applying", _("is being applied")
        APPLIED = "applied", _("is in the roster")
        UNDONE = "undone", _("is taken back")
        FAILED = "failed", _("could not be read")

    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.READING)
    content = models.BinaryField(default=bytes)
    options = models.JSONField(default=dict, blank=True)
    choices = models.JSONField(default=dict, blank=True)
    preview = models.JSONField(default=dict, blank=True)
    made = models.JSONField(default=dict, blank=True)
    progress = models.JSONField(default=dict, blank=True)
    applied_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"{self.state} {self.at}"
