"""Sign-ins that are open, sheets that lead to one, who asks for a new one, and used codes of a second factor."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.accounts import Account
from athletes.models.club import ClubRow
from athletes.models.codes import OneTimeCode
from athletes.models.people import Person


class SignIn(ClubRow):
    """One browser in which somebody is signed in; it goes when the sign-in ends."""

    class Method(models.TextChoices):
        PASSWORD = "password", _("password")
        FACTOR = "factor", _("password and code")
        PASSKEY = "passkey", _("passkey")
        SHEET = "sheet", _("sheet")

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="sign_ins")
    session_key = models.CharField(max_length=40, unique=True)
    method = models.CharField(max_length=8, choices=Method.choices, default=Method.PASSWORD)
    device = models.CharField(max_length=60, blank=True)
    is_shared = models.BooleanField(default=False)
    began_at = models.DateTimeField()
    seen_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.began_at}"


class SignInSheet(OneTimeCode):
    """A sheet or a link with which somebody sets user name and password: the first time, or anew.

    `in_person`: an admin hands it over; `asked_by`: the first of the two people of the club who give a new one;
    `lifts_factor`: the second factor is lost too and goes with the old password.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="sign_in_sheets")
    in_person = models.BooleanField(default=True)
    lifts_factor = models.BooleanField(default=False)
    asked_by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")


class RecoveryAsk(ClubRow):
    """Somebody of the club asks that a person get a new sign-in; within a day another one gives it, or nobody does."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="recoveries")
    asked_by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    asked_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.asked_at}"


class UsedCode(models.Model):
    """A code of an authenticator app that was used: its step of 30 seconds counts once, in whichever process."""

    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="+")
    step = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["account", "step"], name="a_code_counts_once")]

    def __str__(self) -> str:
        return f"{self.step}"
