"""The one decision: may this be done with a young athlete's data, and why."""

from __future__ import annotations

from collections.abc import Callable

from athletes.core.permissions.acts import answer, erase, export, message, withdraw, withhold
from athletes.core.permissions.codes import ALLOWING_CODES, Answer, Code
from athletes.core.permissions.facts import NEVER_PURPOSES, Act, Facts
from athletes.core.permissions.keeping import keep
from athletes.core.permissions.use import use
from athletes.core.permissions.view import view_as_guardian

_RULES: dict[Act, Callable[[Facts], Code]] = {
    Act.USE: use,
    Act.ANSWER: answer,
    Act.WITHDRAW: withdraw,
    Act.VIEW_AS_GUARDIAN: lambda facts: view_as_guardian(facts, facts.purpose),
    Act.MESSAGE: message,
    Act.EXPORT: export,
    Act.ERASE: erase,
    Act.KEEP: keep,
    Act.WITHHOLD: withhold,
}


def decide(facts: Facts) -> Answer:
    """Answer one question about one athlete, from the facts alone: the permissions contract, rule by rule.

    Nothing else decides; the answer is worked out anew for each request. Raises nothing: what a decision cannot rest
    on is refused when the facts are made.
    """
    if facts.purpose in NEVER_PURPOSES:
        return Answer(False, Code.NEVER)
    code = _RULES[facts.act](facts)
    held = facts.act is Act.KEEP and code is Code.LEGAL_HOLD
    return Answer(held or code in ALLOWING_CODES, code)
