"""What stands on the form of one person, and on the page of the club's rules."""

from dataclasses import dataclass
from typing import Any

from athletes.core.wording_changes import Piece, changes
from athletes.models import DigitalAge, RulesConfirmed, Wording
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.selectors.permission_questions import coaches_to_share_with, named_by_default, wording_in_force
from athletes.selectors.signatures import Signer
from athletes.viewer import Viewer


def form_of(*, viewer: Viewer, signer: Signer) -> list[dict[str, Any]]:
    """One line a question: about whom, in which wording, whom a yes names; a few queries for each child."""
    lines = []
    for one in signer.missing:
        is_own = one.athlete.pk == signer.person.pk
        role = Role.ATHLETE if is_own else Role.GUARDIAN
        speaker = Viewer(person=signer.person, club=viewer.club, role=role, now=viewer.now)
        wording = wording_in_force(viewer=speaker, athlete=one.athlete, purpose=one.purpose)
        if wording is None:
            continue
        is_share = one.purpose == Purpose.SHARE
        coaches = coaches_to_share_with(viewer=speaker, athlete=one.athlete) if is_share else []
        named = () if is_share else named_by_default(viewer=speaker, athlete=one.athlete).get(one.purpose, ())
        lines.append(
            {
                "athlete": one.athlete,
                "purpose": one.purpose,
                "wording": wording,
                "coaches": coaches,
                "named": named,
            }
        )
    return lines


@dataclass(frozen=True)
class Changed:
    """The version before the newest, and both in pieces: what went in the one, what is new in the other."""

    before: Wording
    question: tuple[list[Piece], list[Piece]]
    explanation: tuple[list[Piece], list[Piece]]


def _changed(rows: list[Wording]) -> Changed | None:
    """What the newest of a question's versions (given newest first) changed."""
    if len(rows) < 2:
        return None
    now, before = rows[0], rows[1]
    return Changed(before, changes(before.question, now.question), changes(before.explanation, now.explanation))


def rule_book(viewer: Viewer) -> dict[str, Any]:
    """Ages with their sources, the own country first; wordings with what changed; who confirmed; a few queries."""
    ages = list(DigitalAge.objects.filter(club=viewer.club_id).order_by("country", "-valid_from"))
    wordings: dict[tuple[str, bool], list[Wording]] = {}
    for row in Wording.objects.filter(club=viewer.club_id).order_by("purpose", "child_level", "-version"):
        wordings.setdefault((row.purpose, row.child_level), []).append(row)
    return {
        "country": viewer.club.country,
        "own_age": next((row for row in ages if row.country == viewer.club.country), None),
        "ages": ages,
        "wordings": [(rows[0], _changed(rows)) for rows in wordings.values()],
        "confirmed": RulesConfirmed.objects.filter(club=viewer.club_id).first(),
        "is_us": viewer.club.us_rule,
    }
