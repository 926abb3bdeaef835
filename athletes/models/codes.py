"""What every one-time code on paper has, and where wrong tries of any secret are counted."""

from django.db import models

from athletes.models.club import ClubRow
from athletes.models.people import Person


class OneTimeCode(ClubRow):
    """A paper or a link with a code that works once; the code is kept only hashed.

    `number` stands in front of the code and finds the row, whichever club's; ten wrong codes end it.
    """

    number = models.PositiveIntegerField(unique=True)
    code_hash = models.CharField(max_length=200)
    tries = models.PositiveSmallIntegerField(default=0)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    good_until = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.number}"


class Tries(models.Model):
    """Wrong tries of one name, account or place within the last day; `key` is a keyed hash and tells none of them."""

    key = models.CharField(max_length=64, primary_key=True)
    failed_at = models.JSONField(default=list)
    last_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["last_at"], name="tries_by_age")]

    def __str__(self) -> str:
        return f"{self.last_at}"
