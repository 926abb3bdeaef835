"""What the start of the demo says: where to look, and with which account for each role."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

ROLES = ("head_coach", "coach", "athlete", "guardian", "admin", "welfare")


def greeting(facts: Mapping[str, Any], *, facts_path: Path, today: date | None) -> str:
    """Some lines for a person who has just started the demo."""
    lines = [f"The invented club is at {facts['base_url']}" + (f", on its {today:%A %d %B %Y}" if today else "") + "."]
    lines += [_line(role, account) for role, account in accounts_to_try(facts).items()]
    lines.append(f"All accounts, sessions and features: {facts_path}")
    return "\n".join(lines)


def accounts_to_try(facts: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """By role an account that has this role alone; a coach and an athlete of the next technique session of the day."""
    wanted = _people_of_a_full_session(facts)
    found: dict[str, Mapping[str, Any]] = {}
    for role in ROLES:
        holders = [account for account in facts["accounts"] if account["roles"] == [role]]
        holders.sort(key=lambda account: (account["person"] not in wanted, (account["age"] or 0) < 18))
        if holders:
            found[role] = holders[0]
    return found


def _people_of_a_full_session(facts: Mapping[str, Any]) -> set[str]:
    """Person ids of the technique session that most of the accounts are on, and of the children's guardians."""
    by_username = {account["username"]: account["person"] for account in facts["accounts"]}
    technique = [session for session in facts["sessions"] if session["kind"] == "technique"]
    best = max(technique, key=lambda session: (len(session["coaches"]), session["start"]), default=None)
    if best is None:
        return set()
    people = set(best["athletes"]) | {by_username[username] for username in best["coaches"]}
    guardians = {account["person"] for account in facts["accounts"] if people & set(account["children"])}
    return people | guardians


def _line(role: str, account: Mapping[str, Any]) -> str:
    return f"  {role.replace('_', ' '):<11} {account['username']:<28} {account['password']}"
