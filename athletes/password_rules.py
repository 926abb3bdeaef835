"""What a password needs here, as Django's validators; and four words that make a good one."""

import secrets
from functools import cache
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from athletes.core import ages
from athletes.core.passwords import LEAST_ALONE, LEAST_WITH_FACTOR, MOST, as_typed, made_of_known
from athletes.core.sign_in_times import asks_second_factor
from athletes.models import Account, EventGroup, Person, Squad
from athletes.viewer import roles_held
from teamtrack.common.clock import today_in

WORDS = Path(__file__).resolve().parent / "password_words.txt"
SUGGESTED_WORDS = 4


class LongEnough:
    """15 characters, or 12 where a second factor is asked for too."""

    def validate(self, password: str, user: Any = None) -> None:
        least, length = least_length(user.person) if user else LEAST_ALONE, len(as_typed(password))
        if length < least:
            raise ValidationError(
                ngettext(
                    "At least %(least)d character, please: four words that mean something to you alone do well.",
                    "At least %(least)d characters, please: four words that mean something to you alone do well.",
                    least,
                ) % {"least": least}
            )  # fmt: skip
        if length > MOST:
            raise ValidationError(_("At most %(most)d characters, please.") % {"most": MOST})

    def get_help_text(self) -> str:
        return _("At least %(least)d characters; spaces count.") % {"least": LEAST_ALONE}


class NotOfTheClub:
    """Names of the club, its groups and the person itself are guessed first."""

    def validate(self, password: str, user: Any = None) -> None:
        if user and made_of_known(password, _known(user)):
            raise ValidationError(_("Names of the club and your own are guessed first. Please add words of yours."))

    def get_help_text(self) -> str:
        return _("Not made of the club's name or your own.")


def least_length(person: Person) -> int:
    """Characters that this person's password needs."""
    today = today_in(person.club.timezone)
    age = None if person.birth_date is None else ages.age_on(person.birth_date, today)
    return LEAST_WITH_FACTOR if asks_second_factor(roles_held(person, today), age=age) else LEAST_ALONE


def suggested_password() -> str:
    """Four words by chance: 36 bits, enough where wrong tries are counted."""
    return " ".join(secrets.choice(_words()) for _ in range(SUGGESTED_WORDS))


def suggested_words(number: int) -> list[str]:
    """Words by chance for a user name."""
    return [secrets.choice(_words()) for _ in range(number)]


def _known(account: Account) -> list[str]:
    person, club = account.person, account.person.club_id
    names = [person.club.name, person.given_name, person.family_name, account.username]
    for model in (Squad, EventGroup):
        names += model.objects.filter(club=club).values_list("name", flat=True)
    return names


@cache
def _words() -> list[str]:
    return WORDS.read_text(encoding="utf-8").split()
