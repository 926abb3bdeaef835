"""What keeps the consents complete: forms with a one-time code, reminders, and who confirmed the club's rules."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import ClubRow
from athletes.models.codes import OneTimeCode
from athletes.models.people import Person


class ConsentForm(OneTimeCode):
    """A form for one guardian, or an athlete who decides, to sign or to answer by link."""

    giver = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="consent_forms")


class ConsentReminder(ClubRow):
    """A reminder that somebody still has questions to answer: the first or the second, never a third."""

    giver = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="consent_reminders")
    number = models.PositiveSmallIntegerField()
    at = models.DateTimeField()
    sent_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["giver", "number"], name="one_reminder_a_number"),
            models.CheckConstraint(condition=models.Q(number__gte=1, number__lte=2), name="two_reminders_at_most"),
        ]

    def __str__(self) -> str:
        return f"{self.number}"


class RulesConfirmed(ClubRow):
    """A named person of the club has read the rule book, the ages and the wordings, and stands for them."""

    class Book(models.TextChoices):
        EUROPE = "europe", _("Europe: the higher of two countries' digital ages")
        UNITED_STATES = "united_states", _("United States: a parent's yes under 13")

    book = models.CharField(max_length=14, choices=Book.choices)
    country = models.CharField(max_length=2)
    digital_age = models.PositiveSmallIntegerField()
    by_name = models.CharField(max_length=120)
    confirmed_on = models.DateField()
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-confirmed_on", "-id"]

    def __str__(self) -> str:
        return f"{self.book} {self.confirmed_on}"
