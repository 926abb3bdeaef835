"""People of a club: who they are, since when they are members, who answers for them."""

from collections.abc import Iterable
from typing import Any

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from athletes.core.roster_file.names import folded
from athletes.models.club import ClubRow, Dated
from athletes.models.noted import NotedRows


def search_text(given_name: str, family_name: str) -> str:
    """A name as it is searched: folded, each word after a space, so that one question finds the beginning of any."""
    words = folded(f"{family_name} {given_name}")
    return f" {words}"[:160] if words else ""


class PersonRows(NotedRows):
    """A queryset that keeps the searched name beside the names."""

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        rows = list(objs)
        for row in rows:
            row.search_name = search_text(row.given_name, row.family_name)
        return super().bulk_create(rows, *args, **kwargs)

    def bulk_update(self, objs: Iterable[Any], fields: Iterable[str], *args: Any, **kwargs: Any) -> int:
        rows, names = list(objs), set(fields)
        if names & {"given_name", "family_name"}:
            names.add("search_name")
            for row in rows:
                row.search_name = search_text(row.given_name, row.family_name)
        return super().bulk_update(rows, sorted(names), *args, **kwargs)


class Person(ClubRow):
    """Somebody of the club in whatever role.

    With `left_on` the record is gone: who it was is not kept, what rests on it still is, each for its own time.
    `search_name` follows from the names: written with them, by `save` and `bulk_create`.
    """

    given_name = models.CharField(max_length=60)
    family_name = models.CharField(max_length=60)
    birth_date = models.DateField(null=True, blank=True)
    home_country = models.CharField(max_length=2, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=30, blank=True)
    left_on = models.DateField(null=True, blank=True)
    search_name = models.CharField(max_length=160, blank=True, editable=False)

    objects = PersonRows.as_manager()

    class Meta:
        indexes = [models.Index(fields=["club", "family_name", "given_name"], name="person_by_name")]

    def __str__(self) -> str:
        return self.full_name

    def save(self, *args: Any, update_fields: Iterable[str] | None = None, **kwargs: Any) -> None:
        self.search_name = search_text(self.given_name, self.family_name)
        if update_fields is not None and {"given_name", "family_name"} & set(update_fields):
            update_fields = {*update_fields, "search_name"}
        super().save(*args, update_fields=update_fields, **kwargs)

    @property
    def full_name(self) -> str:
        return f"{self.given_name} {self.family_name}".strip() or gettext("somebody who has left")


class Membership(ClubRow, Dated):
    """An athlete is a member from a day on; the notice was shown on a day.

    On trial: nothing is kept but name, contact and presence, and `last_day` ends it.
    """

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="memberships")
    notice_shown_on = models.DateField(null=True, blank=True)
    weekly_minutes_cap = models.PositiveSmallIntegerField(null=True, blank=True)
    is_trial = models.BooleanField(default=False)

    objects = NotedRows.as_manager()

    class Meta:
        indexes = [models.Index(fields=["athlete", "first_day"], name="membership_by_athlete")]

    def __str__(self) -> str:
        return f"{self.athlete_id} {self.first_day}"


class Guardianship(ClubRow, Dated):
    """A guardian of an athlete, with the authority that the club has seen papers for: on a day, by an admin.

    The papers themselves are not stored.
    """

    class Authority(models.TextChoices):
        FULL = "full", _("may decide")
        CARE = "care", _("day-to-day care")
        LIMITED = "limited", _("limited by a court")
        UNVERIFIED = "unverified", _("not yet checked")

    guardian = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="guardian_of")
    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="guarded_by")
    authority = models.CharField(max_length=10, choices=Authority.choices, default=Authority.UNVERIFIED)
    papers_seen_on = models.DateField(null=True, blank=True)
    papers_seen_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    objects = NotedRows.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["guardian", "athlete", "first_day"], name="one_guardianship_a_day"),
            models.CheckConstraint(condition=~models.Q(guardian=models.F("athlete")), name="nobody_guards_themselves"),
        ]

    def __str__(self) -> str:
        return f"{self.guardian_id} for {self.athlete_id}"


class ContactNumber(ClubRow):
    """A number to ring about an athlete, and whether that person may collect the child.

    A guardian sees and changes the numbers that are their own entry alone: guardians never see each other's.
    """

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="contact_numbers")
    name = models.CharField(max_length=120)
    relation = models.CharField(max_length=60)
    phone = models.CharField(max_length=30)
    order = models.PositiveSmallIntegerField(default=1)
    may_collect = models.BooleanField(default=False)
    entered_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["order", "id"]

    def __str__(self) -> str:
        return self.name
