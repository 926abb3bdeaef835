"""How the families of the invented club answered: one list of answers for each way of answering."""

from collections.abc import Iterator
from dataclasses import dataclass

from sessions.demo.people import (
    ALL,
    COME_OF_AGE,
    NO,
    OPEN,
    OVERDUE,
    PENDING,
    RUN_OUT,
    STOPPED,
    WEAK,
)

OPTIONAL = ("health", "share", "feed")
DIGITAL_AGE, ADULT = 16, 18
GOOD_FOR_DAYS = 365


@dataclass(frozen=True)
class AnswerPlan:
    """One answer: by the athlete or a guardian, so many days ago, with its evidence and how long it holds."""

    by_athlete: bool
    purpose: str
    answer: str
    days_ago: int
    evidence: int = 2
    good_for_days: int = GOOD_FOR_DAYS
    on_paper: bool = False


def answers_of(answered: str, age: int | None, days_ago: int) -> list[AnswerPlan]:
    """The answers of a family that answered in the way `answered`; `age` None is unknown."""
    by_guardian_only = {PENDING: 200, OVERDUE: 230, COME_OF_AGE: 220}
    if answered == OPEN:
        return []
    if answered in by_guardian_only:
        return [AnswerPlan(False, purpose, "yes", by_guardian_only[answered]) for purpose in OPTIONAL]
    yes = list(_yes_to_all(age, days_ago))
    if answered == ALL:
        return yes
    rest = [plan for plan in yes if plan.purpose != "health"]
    return rest + list(_about_health(answered, [plan for plan in yes if plan.purpose == "health"]))


def _yes_to_all(age: int | None, days_ago: int) -> Iterator[AnswerPlan]:
    """A guardian's yes where one is needed, the athlete's own from the digital age on."""
    years = 9 if age is None else age
    for purpose in OPTIONAL:
        on_paper = purpose == "health" and days_ago % 2 == 0
        if years < DIGITAL_AGE or (purpose == "health" and years < ADULT):
            yield AnswerPlan(False, purpose, "yes", days_ago, on_paper=on_paper)
        if years >= DIGITAL_AGE:
            yield AnswerPlan(True, purpose, "yes", days_ago - 1)


def _about_health(answered: str, yes: list[AnswerPlan]) -> Iterator[AnswerPlan]:
    first = yes[0]
    if answered == NO:
        yield AnswerPlan(first.by_athlete, "health", "no", first.days_ago)
    elif answered == STOPPED:
        yield from yes
        yield AnswerPlan(first.by_athlete, "health", "withdrawn", 12)
    elif answered == WEAK:
        yield from (AnswerPlan(plan.by_athlete, "health", "yes", plan.days_ago, evidence=1) for plan in yes)
    elif answered == RUN_OUT:
        yield from (AnswerPlan(plan.by_athlete, "health", "yes", 100, good_for_days=85) for plan in yes)
