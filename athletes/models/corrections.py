"""What was put right in somebody's record, with what stood there before, so that it can be undone."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import ClubRow
from athletes.models.people import Person
from athletes.models.requests import DataRequest


class Correction(ClubRow):
    """One change of a record: the columns that changed, as they were and as they are; nothing where no row was.

    `row` is the person, a number to ring about them, or a link of theirs to a guardian. It goes with the record.
    """

    class What(models.TextChoices):
        PERSON = "person", _("name, birth date, reach")
        CONTACT = "contact", _("a number to ring")
        GUARDIAN = "guardian", _("a guardian's link")

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="corrections")
    what = models.CharField(max_length=8, choices=What.choices)
    row = models.UUIDField()
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    request = models.ForeignKey(
        DataRequest, null=True, blank=True, on_delete=models.SET_NULL, related_name="corrections"
    )

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["person", "at"], name="correction_by_person")]

    def __str__(self) -> str:
        return f"{self.what} {self.at}"
