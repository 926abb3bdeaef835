"""Accounts and the roles of the club's staff."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.core.passwords import as_typed
from athletes.models.club import ClubRow, Dated
from athletes.models.noted import NotedRows
from athletes.models.people import Person


class AccountManager(BaseUserManager["Account"].from_queryset(NotedRows)):  # type: ignore[misc]
    """Makes accounts; there is no superuser, since no page reads past the decision function."""

    def create_account(self, *, username: str, password: str, person: Person, handed_over: bool = False) -> "Account":
        account = self.model(username=username, person=person, handed_over=handed_over)
        account.set_password(password)
        account.save(using=self._db)
        return account


class Account(AbstractBaseUser):
    """What somebody signs in with: a user name, e-mail not needed, one account for all roles of a person.

    `handed_over`: an admin met its owner and gave the sign-in; `signed_out_at`: an admin ended all sign-ins then, and
    the owner has not read it yet; `sheet_made_at`: since then a sheet for a new one waits. The owner is told of both on
    every page.
    """

    username = models.CharField(max_length=80, unique=True)
    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="account")
    is_active = models.BooleanField(default=True)
    is_demo = models.BooleanField(default=False)
    handed_over = models.BooleanField(default=False)
    sheet_made_at = models.DateTimeField(null=True, blank=True)
    signed_out_at = models.DateTimeField(null=True, blank=True)

    USERNAME_FIELD = "username"
    objects = AccountManager()

    def __str__(self) -> str:
        return self.username

    def set_password(self, raw_password: str | None) -> None:
        super().set_password(None if raw_password is None else as_typed(raw_password))

    def check_password(self, raw_password: str) -> bool:
        return super().check_password(as_typed(raw_password))


class Role(models.TextChoices):
    """The roles in which a signed-in person acts, one at a time; in the order of the navigation."""

    HEAD_COACH = "head_coach", _("Head coach")
    COACH = "coach", _("Coach")
    ATHLETE = "athlete", _("Athlete")
    GUARDIAN = "guardian", _("Guardian")
    ADMIN = "admin", _("Admin")
    WELFARE = "welfare", _("Welfare lead")


class StaffRole(ClubRow, Dated):
    """A role that the club gives; athlete and guardian follow from membership and guardianship instead."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="staff_roles")
    role = models.CharField(max_length=12, choices=[c for c in Role.choices if c[0] not in ("athlete", "guardian")])

    objects = NotedRows.as_manager()

    class Meta:
        indexes = [models.Index(fields=["person"], name="staff_role_by_person")]

    def __str__(self) -> str:
        return f"{self.role} {self.person_id}"
