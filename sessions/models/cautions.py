"""Cautions of the day: thunder heard, and heat; dated, so that a page can count."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, Person


class Caution(ClubRow):
    """Somebody of the club said that there is thunder, or that it is hot; each time a row of its own."""

    class Kind(models.TextChoices):
        THUNDER = "thunder", _("thunder")
        HEAT = "heat", _("heat")

    kind = models.CharField(max_length=8, choices=Kind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "id"]
        indexes = [models.Index(fields=["club", "at"], name="caution_by_time")]

    def __str__(self) -> str:
        return f"{self.kind} {self.at}"
