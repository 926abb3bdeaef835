"""Accounts of the invented club, their passwords, and the file of facts in which both stand."""

import json
import os
import secrets
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import Argon2PasswordHasher, get_hasher

from athletes.core import ages
from athletes.models import Account, Club, CoachAssignment, GroupMembership, Guardianship, Person
from athletes.viewer import in_force, roles_held
from sessions.core.iso_week import monday_of
from sessions.models import Feature, TrainingSession
from teamtrack.common.clock import today_in

BACK, AHEAD = timedelta(weeks=2), timedelta(weeks=2)


def make_accounts(people: Mapping[str, Person]) -> dict[str, str]:
    """Accounts by user name, each with a random password; returns the passwords."""
    passwords = {username: secrets.token_urlsafe(12) for username in people}
    hashes = _hashes(passwords)
    Account.objects.bulk_create(
        Account(username=username, person=person, password=hashes[username], is_demo=True, handed_over=True)
        for username, person in people.items()
    )
    return passwords


def renew_passwords(club: Club) -> dict[str, str]:
    """New passwords for all demo accounts, for where the file that held them is gone."""
    accounts = list(Account.objects.filter(person__club=club, is_demo=True))
    passwords = {account.username: secrets.token_urlsafe(12) for account in accounts}
    hashes = _hashes(passwords)
    for account in accounts:
        account.password = hashes[account.username]
    Account.objects.bulk_update(accounts, ["password"])
    return passwords


def _hashes(passwords: Mapping[str, str]) -> dict[str, str]:
    """Hashes made quickly: a random password of 96 bits needs no slow one, and the first sign-in renews it anyway."""
    hasher = get_hasher()
    if isinstance(hasher, Argon2PasswordHasher):
        hasher = Argon2PasswordHasher()
        hasher.time_cost, hasher.memory_cost, hasher.parallelism = 1, 1024, 1
    return {username: hasher.encode(password, hasher.salt()) for username, password in passwords.items()}


def facts_of(club: Club, *, base_url: str, passwords: Mapping[str, str]) -> dict[str, Any]:
    """The facts in the shape of the driving contract."""
    accounts = Account.objects.filter(person__club=club, is_demo=True, username__in=passwords)
    rows = accounts.select_related("person").order_by("username")
    usernames = dict(Account.objects.filter(person__club=club).values_list("person_id", "username"))
    return {
        "base_url": base_url,
        "accounts": [_account(account, club, passwords[account.username]) for account in rows],
        "sessions": [_session(session, usernames, club) for session in _sessions(club)],
        "features": list(Feature.objects.filter(club=club, retired_on=None).values_list("code", flat=True)),
    }


def _account(account: Account, club: Club, password: str) -> dict[str, Any]:
    person, today = account.person, today_in(club.timezone)
    groups = set(GroupMembership.objects.filter(in_force(today), athlete=person).values_list("group_id", flat=True))
    groups |= set(CoachAssignment.objects.filter(in_force(today), coach=person).values_list("group_id", flat=True))
    children = Guardianship.objects.filter(in_force(today), guardian=person).values_list("athlete_id", flat=True)
    return {
        "username": account.username,
        "password": password,
        "roles": list(roles_held(person, today)),
        "person": str(person.pk),
        "groups": sorted(map(str, groups)),
        "children": sorted(map(str, children)),
        "age": None if person.birth_date is None else ages.age_on(person.birth_date, today),
    }


def _sessions(club: Club) -> Iterable[TrainingSession]:
    """Training sessions from two weeks ago to the end of next week."""
    monday = datetime.combine(monday_of(today_in(club.timezone)), datetime.min.time(), ZoneInfo(club.timezone))
    rows = TrainingSession.objects.filter(
        club=club, state="published", starts_at__gte=monday - BACK, starts_at__lt=monday + AHEAD
    )
    return rows.order_by("starts_at", "id").prefetch_related("groups", "session_coaches", "session_athletes")


def _session(session: TrainingSession, usernames: Mapping[Any, str], club: Club) -> dict[str, Any]:
    zone = ZoneInfo(club.timezone)
    on_list = [row.coach_id for row in session.session_coaches.all() if row.taken_off_at is None]
    return {
        "id": str(session.pk),
        "kind": session.kind,
        "start": session.starts_at.astimezone(zone).isoformat(timespec="minutes"),
        "end": session.ends_at.astimezone(zone).isoformat(timespec="minutes"),
        "venue": str(session.venue_id) if session.venue_id else None,
        "groups": sorted(str(group.pk) for group in session.groups.all()),
        "coaches": sorted(usernames[coach] for coach in on_list if coach in usernames),
        "athletes": sorted(str(row.athlete_id) for row in session.session_athletes.all() if row.comes != "away"),
    }


def known_passwords(path: Path) -> dict[str, str] | None:
    """The passwords in a file of facts written before; None where there is none that can be read."""
    try:
        facts = json.loads(path.read_text())
        return {row["username"]: row["password"] for row in facts["accounts"]}
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        return None


def write_facts(path: Path, facts: Mapping[str, Any]) -> None:
    """Write the file whole or not at all; its owner alone reads it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
        json.dump(facts, out, indent=1, ensure_ascii=False)
        out.flush()
        os.fsync(out.fileno())
    part.replace(path)
