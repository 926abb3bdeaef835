"""Keepers of sign-ins: accounts and what hangs on them go with the record, all else after its days."""

from uuid import UUID

from django.contrib.sessions.models import Session
from django.db.models import Q

from athletes.models import Account, KeptKind, RecoveryAsk, SignIn, SignInSheet, Tries, UsedCode
from athletes.services.keepers import Ids, Keeper, needs_no_keeper, part_of_record, register


def register_all() -> None:
    """Called once, when the app is ready."""
    register(
        Keeper(
            "last_sign_ins", KeptKind.SIGN_IN, Account,
            lambda night: Q(last_login__lt=night.instant(KeptKind.SIGN_IN)), whose="person", club="person__club",
            remove=_forget_sign_in,
        ),
        Keeper(
            "open_sign_ins", KeptKind.SIGN_IN, SignIn,
            lambda night: Q(seen_at__lt=night.instant(KeptKind.SIGN_IN)), whose="person",
        ),
        Keeper(
            "asked_sign_ins", KeptKind.SIGN_IN, RecoveryAsk,
            lambda night: Q(asked_at__lt=night.instant(KeptKind.SIGN_IN)), whose="person",
        ),
        Keeper(
            "sign_in_sheets", KeptKind.INVITATION, SignInSheet,
            lambda night: Q(made_at__lt=night.instant(KeptKind.INVITATION), good_until__lt=night.instant_now),
            whose="person",
        ),
    )  # fmt: skip
    part_of_record(
        (Account, "person"), (SignIn, "person"), (SignInSheet, "person"), (RecoveryAsk, "person"),
        (RecoveryAsk, "asked_by"),
    )  # fmt: skip
    needs_no_keeper(Tries, "hashes; every night removes those of the days before")
    needs_no_keeper(UsedCode, "goes with the account, and with the next codes used")
    needs_no_keeper(Session, "browser sessions end by themselves; every night removes those that have")


def _forget_sign_in(club_id: UUID, ids: Ids) -> None:
    Account.objects.filter(person__club=club_id, pk__in=ids).update(last_login=None)
