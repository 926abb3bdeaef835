"""Trackside entries: never changed in place; health text lies in a table of its own."""

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, Person
from athletes.models.noted import NotedRows
from sessions.models.calendar import TrainingSession


class EntryKind(models.TextChoices):
    """Kinds of entry."""

    RUN = "run", _("run")
    OBSERVATION = "observation", _("observation")
    CUE = "cue", _("words used")
    OWN_VIEW = "own_view", _("own view")
    STOP = "stop", _("stop")
    PAIN = "pain", _("pain")
    PRESENCE = "presence", _("roll call")
    FELT = "felt", _("how it felt")
    DAY = "day", _("how hard the day was")


class Entry(models.Model):
    """One entry as a device sent it; `content` holds the kind's own keys (none for pain: see PainDetail)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    club = models.ForeignKey("athletes.Club", on_delete=models.CASCADE, related_name="+")
    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="entries")
    seq = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=12, choices=EntryKind.choices)
    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="entries")
    stride = models.PositiveSmallIntegerField(null=True, blank=True)
    at = models.CharField(max_length=24)
    device = models.CharField(max_length=64)
    replaces = models.UUIDField(null=True, blank=True)
    withdrawn = models.BooleanField(default=False)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="entries_sent")
    by_athlete = models.BooleanField(default=False)
    received_at = models.DateTimeField()
    content = models.JSONField(default=dict)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["training_session", "seq"], name="one_entry_a_seq")]
        indexes = [models.Index(fields=["athlete", "kind"], name="entries_by_athlete")]

    def __str__(self) -> str:
        return f"{self.kind} {self.seq}"


class PainDetail(models.Model):
    """Where it hurts, sealed with the athlete's own key: read by the permission for health alone, each read logged."""

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.CASCADE, related_name="pain_detail")
    club = models.ForeignKey("athletes.Club", on_delete=models.CASCADE, related_name="+")
    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    sealed = models.BinaryField()

    def __str__(self) -> str:
        return f"{self.entry_id}"

    @property
    def sealed_for(self) -> str:
        """The row that the text is sealed for: elsewhere it does not open."""
        return f"{self._meta.db_table}:{self.entry_id}:{self.athlete_id}"


class ErasedEntry(ClubRow):
    """An entry's id that was taken away on request: it never comes back."""

    training_session = models.ForeignKey(TrainingSession, on_delete=models.CASCADE, related_name="erased_entries")
    entry_id = models.UUIDField()

    objects = NotedRows.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["training_session", "entry_id"], name="erased_once")]

    def __str__(self) -> str:
        return f"{self.entry_id}"


class HiddenLine(ClubRow):
    """An entry that an athlete has put out of sight on the own page; for everybody else it stays as it is."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    entry = models.OneToOneField(Entry, on_delete=models.CASCADE, related_name="hidden_line")
    hidden_on = models.DateField()

    def __str__(self) -> str:
        return str(self.entry_id)
