"""The access log: a hash chain for each club, with pseudonyms whose keys can be destroyed."""

from collections.abc import Sequence
from typing import Any

from django.db import models

from athletes.models.club import Club, ClubRow
from athletes.models.people import Person

CHAINED = ("seq", "actor", "actor_role", "verb", "kind", "subject", "fields", "code", "request_id", "at")
"""The fields of a line that its hash covers."""


class AccessLogEntry(models.Model):
    """Who did what with whose data; never contents. The database refuses changes to this table."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveBigIntegerField()
    at = models.DateTimeField()
    actor = models.CharField(max_length=64)
    actor_role = models.CharField(max_length=20)
    verb = models.CharField(max_length=20)
    kind = models.CharField(max_length=30)
    subject = models.CharField(max_length=64, blank=True)
    fields = models.JSONField(default=list)
    code = models.CharField(max_length=40, blank=True)
    request_id = models.CharField(max_length=36, blank=True)
    prev_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "seq"], name="one_entry_a_place_in_the_chain")]
        indexes = [models.Index(fields=["club", "subject"], name="access_log_by_subject")]

    def __str__(self) -> str:
        return f"{self.seq} {self.verb} {self.kind}"

    @property
    def chained(self) -> dict[str, object]:
        """What the hash of a line covers."""
        return chained_content([getattr(self, name) for name in CHAINED])


def chained_content(values: Sequence[Any]) -> dict[str, object]:
    """What the hash of a line covers, from the values of the `CHAINED` fields in their order."""
    content = dict(zip(CHAINED, values, strict=True))
    return content | {"at": content["at"].isoformat(timespec="microseconds")}


class ChainHead(models.Model):
    """The last place and hash of a club's chain; its row lock makes one writer at a time."""

    club = models.OneToOneField(Club, on_delete=models.PROTECT, primary_key=True, related_name="+")
    seq = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"{self.seq}"


class SignedHead(models.Model):
    """A head of a club's chain, signed: it vouches for the entries after `after_seq` up to `seq`."""

    club = models.ForeignKey(Club, on_delete=models.PROTECT, related_name="+")
    after_seq = models.PositiveBigIntegerField()
    seq = models.PositiveBigIntegerField()
    hash = models.CharField(max_length=64)
    witness = models.TextField()
    at = models.DateTimeField()
    signature = models.CharField(max_length=128)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "after_seq"], name="signed_once")]

    def __str__(self) -> str:
        return f"{self.after_seq} to {self.seq}"


class PseudonymKey(models.Model):
    """A person's key of one calendar year; destroying it unlinks that year's log lines."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="pseudonym_keys")
    year = models.PositiveSmallIntegerField()
    key = models.BinaryField(max_length=32)
    pseudonym = models.CharField(max_length=64, db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "year"], name="one_key_a_year")]

    def __str__(self) -> str:
        return f"{self.year}"


class LogQuestion(ClubRow):
    """What an athlete, or a guardian who may see the log, asks about one of its lines, and what an admin answered."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="log_questions")
    asked_by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    seq = models.PositiveBigIntegerField()
    words = models.CharField(max_length=500)
    asked_at = models.DateTimeField()
    answer = models.CharField(max_length=1000, blank=True)
    answered_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["asked_at", "id"]
        constraints = [models.UniqueConstraint(fields=["asked_by", "athlete", "seq"], name="one_question_a_line")]

    def __str__(self) -> str:
        return f"{self.seq}"
