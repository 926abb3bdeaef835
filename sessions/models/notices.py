"""Notices in the app: what changed, and that somebody wants a person; never what hurts."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, Person
from sessions.models.calendar import TrainingSession


class Notice(ClubRow):
    """One line for one person, seen or not; made in the transaction of what it tells.

    `seen_at`: tapped "seen", or opened what changed; `mailed_at`: a mail server took it, which confirms nothing;
    `reached_at`: somebody of the club reached the person by voice; `in_app_only`: it changes nothing for whoever it is
    about, who had said not to come: neither mailed nor rung. `entry_id`: the pain note, or the emergency access.
    """

    class Kind(models.TextChoices):
        MOVED = "moved", _("moved")
        ADDED = "added", _("new")
        CALLED_OFF = "called_off", _("called off")
        EASIER = "easier", _("easier version")
        ON_AGAIN = "on_again", _("takes place after all")
        STOPPED = "stopped", _("stopped for today")
        PAIN = "pain", _("a pain note wants a person")
        NOT_COMING = "not_coming", _("not coming")
        STOP_ASKED = "stop_asked", _("would like to stop a point")
        PASSED_ON = "passed_on", _("a note for you in the summary")
        EMERGENCY = "emergency", _("pain notes opened in an emergency")

    to = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="notices")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    about = models.ForeignKey(Person, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    training_session = models.ForeignKey(
        TrainingSession, null=True, blank=True, on_delete=models.CASCADE, related_name="notices"
    )
    entry_id = models.UUIDField(null=True, blank=True)
    in_app_only = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    seen_at = models.DateTimeField(null=True, blank=True)
    mailed_at = models.DateTimeField(null=True, blank=True)
    reached_at = models.DateTimeField(null=True, blank=True)
    reached_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["-made_at", "id"]
        indexes = [models.Index(fields=["to", "seen_at"], name="notices_by_person")]
        constraints = [
            models.UniqueConstraint(
                fields=["to", "entry_id"], condition=models.Q(entry_id__isnull=False), name="told_once_an_entry"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind}"
