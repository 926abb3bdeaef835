"""Draws the athletes and families of the invented club: plain data, from a seeded source alone."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import cycle
from random import Random

from sessions.demo.layout import (
    HURDLES,
    LONG,
    MIDDLE,
    PARENT_COACH,
    SPRINT,
    STAFF,
    TEENS,
    YOUNG,
    StaffSpec,
)
from sessions.demo.names import NameBook

ALL, NO, STOPPED, OPEN, PENDING, OVERDUE, COME_OF_AGE, WEAK, RUN_OUT = (
    "all", "no", "stopped", "open", "pending", "overdue", "come_of_age", "weak", "run_out"
)  # fmt: skip
"""How a family answered: all yes, no to health, health stopped again, unanswered, a guardian's yes that goes on after
the digital age, one that waited too long, one from before the 18th birthday, too weak evidence, run out."""

SQUADS = (("Under 13", 13), ("Under 16", 16), ("Under 18", 18), ("Under 20", 20), ("Senior", 99))


@dataclass(frozen=True)
class Intake:
    """How many athletes of which ages train in which groups, and how many of them have accounts."""

    groups: tuple[str, ...]
    ages: tuple[int, ...]
    all_yes: int
    accounts: int


# 90 athletes; eight are in two groups: children who move up, and youths who try the hurdles.
INTAKES: tuple[Intake, ...] = (
    Intake((SPRINT,), (15, 16, 17, 18, 20, 14, 15, 17, 19, 22, 14, 16, 21, 24, 17, 15, 16, 19, 16), 12, 5),
    Intake((TEENS, HURDLES), (15, 14, 15, 14), 3, 2),
    Intake((HURDLES,), (14, 15, 16, 17, 18, 19, 21, 15, 16, 22, 17), 9, 3),
    Intake((MIDDLE,), (14, 15, 16, 17, 18, 19, 20, 23, 15, 16, 17, 14, 24, 16), 10, 3),
    Intake((LONG,), (15, 16, 17, 18, 19, 21, 22, 24, 16, 17, 20, 18, 17), 10, 3),
    Intake((YOUNG, TEENS), (12, 12, 12, 12), 3, 1),
    Intake((YOUNG,), (10, 11, 12, 10, 11, 12, 11, 10, 12, 11, 10, 12, 11), 8, 3),
    Intake((TEENS,), (13, 14, 13, 15, 14, 13, 14, 15, 13, 14, 13, 15), 8, 3),
)
LESS = (NO, STOPPED, OPEN, WEAK, RUN_OUT)
"""What those answered who did not say yes to all, in turn."""


@dataclass(frozen=True)
class GuardianPlan:
    """A guardian: `full`, `care`, `limited` or `unverified` authority; `username` where there is an account."""

    given: str
    family: str
    authority: str
    phone: str
    may_collect: bool = True
    username: str = ""


@dataclass(frozen=True)
class AthletePlan:
    """An athlete with their family; `answered` says how the family answered."""

    given: str
    family: str
    born: date | None
    joined: date
    groups: tuple[str, ...]
    squad: str
    answered: str
    username: str = ""
    home_country: str = ""
    phone: str = ""
    guardians: tuple[GuardianPlan, ...] = ()
    minutes_cap: int | None = None

    @property
    def full_name(self) -> str:
        return f"{self.given} {self.family}"


@dataclass
class Roster:
    """All athletes of the club; families keep their guardians for brothers and sisters."""

    rng: Random
    today: date
    names: NameBook
    athletes: list[AthletePlan] = field(default_factory=list)
    families: list[tuple[str, tuple[GuardianPlan, ...]]] = field(default_factory=list)
    authorities: Iterator[str] = field(default_factory=lambda: cycle(AUTHORITIES))
    numbers: Iterator[int] = field(default_factory=lambda: iter(range(1000)))

    def phone(self) -> str:
        """A number of the block that the club's country keeps for films and books (from memory)."""
        return f"+353 20 910 {next(self.numbers):04d}"


AUTHORITIES = ("full",) * 9 + ("care",) + ("full",) * 7 + ("unverified",) + ("full",) * 8 + ("limited",)
"""Authority of second guardians, in turn: most of them full."""


def draw_roster(*, seed: int, today: date) -> list[AthletePlan]:
    """The athletes of the club as it is on `today`."""
    rng = Random(f"{seed}:people")  # noqa: S311 - a seeded club, no secret
    names = NameBook(rng)
    for staff in STAFF:
        names.take(staff.given, staff.family)
    roster = Roster(rng, today, names)
    for intake in INTAKES:
        _draw_intake(roster, intake)
    return _with_special_cases(roster)


def _draw_intake(roster: Roster, intake: Intake) -> None:
    answers = iter([ALL] * intake.all_yes + [LESS[n % len(LESS)] for n in range(len(intake.ages) - intake.all_yes)])
    for number, age in enumerate(intake.ages):
        born = birthday_of(roster.rng, roster.today, age)
        family, guardians = _family(roster, age)
        given = roster.names.given(family)
        roster.athletes.append(
            AthletePlan(
                given=given,
                family=family,
                born=born,
                joined=roster.today - timedelta(days=roster.rng.randrange(240, 900)),
                groups=intake.groups,
                squad=squad_of(age),
                answered=next(answers),
                username=username_of(given, family) if has_account(number, intake) else "",
                phone=roster.phone() if age >= 16 else "",
                guardians=guardians,
                minutes_cap=300 if age < 13 else 480 if age < 16 else None,
            )
        )


def has_account(number: int, intake: Intake) -> bool:
    """The first ones who said yes to all, and the last one, who did not."""
    return number < intake.accounts - 1 or number == len(intake.ages) - 1


def birthday_of(rng: Random, today: date, age: int) -> date:
    """A birth date of somebody who is `age` on `today`, months away from the next birthday and the last."""
    return years_before(today, age) - timedelta(days=rng.randrange(130, 230))


def years_before(day: date, years: int) -> date:
    """The same day so many years before; the 28th for a 29th of February that was not."""
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return day.replace(year=day.year - years, day=28)


def squad_of(age: int) -> str:
    return next(name for name, below in SQUADS if age < below)


def username_of(given: str, family: str) -> str:
    return f"{given}.{family}".lower()


def _family(roster: Roster, age: int) -> tuple[str, tuple[GuardianPlan, ...]]:
    """A family name with guardians for minors; every seventh young athlete has a brother or sister in the club."""
    if age >= 18:
        return roster.names.family(), ()
    if roster.families and roster.rng.random() < 1 / 7:
        return roster.rng.choice(roster.families)
    family = roster.names.family()
    guardians = [_guardian(roster, family, "full")]
    if roster.rng.random() < 0.6:
        other = family if roster.rng.random() < 0.7 else roster.names.family()
        authority = next(roster.authorities)
        guardians.append(_guardian(roster, other, authority, may_collect=authority != "limited"))
    roster.families.append((family, tuple(guardians)))
    return family, tuple(guardians)


def _guardian(roster: Roster, family: str, authority: str, *, may_collect: bool = True) -> GuardianPlan:
    return GuardianPlan(roster.names.given(family), family, authority, roster.phone(), may_collect)


def _with_special_cases(roster: Roster) -> list[AthletePlan]:
    """The cases that chance would seldom make: coming of age, unknown birth date, another home country, accounts."""
    athletes = list(roster.athletes)
    _come_of_age(athletes, roster.today)
    _change(athletes, YOUNG, -2, born=None)
    _change(athletes, TEENS, -2, home_country="DE")
    _change(athletes, MIDDLE, 1, home_country="ES")
    _link_parent_coach(athletes)
    return _with_guardian_accounts(athletes)


def _come_of_age(athletes: list[AthletePlan], today: date) -> None:
    """A guardian's yes meets the 16th birthday of two runners, and the 18th of one."""
    spare = [n for n, plan in enumerate(athletes) if plan.answered in (OPEN, WEAK, RUN_OUT)]
    cases = ((SPRINT, 16, 40, PENDING), (MIDDLE, 16, 150, OVERDUE), (SPRINT, 18, 60, COME_OF_AGE))
    for group, years, days, answered in cases:
        number = next(n for n in spare if athletes[n].groups == (group,) and athletes[n].guardians)
        spare.remove(number)
        born = years_before(today - timedelta(days=days), years)
        athletes[number] = _changed(athletes[number], born=born, answered=answered, squad=squad_of(years))


def _link_parent_coach(athletes: list[AthletePlan]) -> None:
    """One coach is a parent of the club, too."""
    coach: StaffSpec = next(staff for staff in STAFF if staff.username == PARENT_COACH)
    number = next(n for n, plan in enumerate(athletes) if plan.groups == (TEENS,) and not plan.username)
    parent = GuardianPlan(coach.given, coach.family, "full", "+353 20 910 0990", username=coach.username)
    athletes[number] = _changed(athletes[number], family=coach.family, guardians=(parent,))


def _with_guardian_accounts(athletes: list[AthletePlan]) -> list[AthletePlan]:
    """Some guardians sign in: of each authority, of several children, of runners in every group."""
    chosen = _guardians_who_sign_in(athletes)
    return [
        _changed(plan, guardians=tuple(_signing_in(guardian, chosen) for guardian in plan.guardians))
        for plan in athletes
    ]


def _guardians_who_sign_in(athletes: list[AthletePlan]) -> set[tuple[str, str]]:
    children: dict[tuple[str, str], int] = {}
    by_authority: dict[str, list[tuple[str, str]]] = {"full": [], "care": [], "limited": [], "unverified": []}
    for plan in athletes:
        for guardian in plan.guardians:
            key = (guardian.given, guardian.family)
            if key not in children:
                by_authority[guardian.authority].append(key)
            children[key] = children.get(key, 0) + 1
    several = [key for key in by_authority["full"] if children[key] > 1]
    one_each = [keys[0] for authority, keys in by_authority.items() if authority != "full" and keys]
    return {*by_authority["full"][::14], *several[:2], *one_each}


def _signing_in(guardian: GuardianPlan, chosen: set[tuple[str, str]]) -> GuardianPlan:
    if guardian.username or (guardian.given, guardian.family) not in chosen:
        return guardian
    username = username_of(guardian.given, guardian.family)
    return GuardianPlan(
        guardian.given, guardian.family, guardian.authority, guardian.phone, guardian.may_collect, username
    )


def _change(athletes: list[AthletePlan], group: str, place: int, **fields: object) -> None:
    number = [n for n, plan in enumerate(athletes) if plan.groups == (group,)][place]
    athletes[number] = _changed(athletes[number], **fields)


def _changed(plan: AthletePlan, **fields: object) -> AthletePlan:
    changed = replace(plan, **fields)  # type: ignore[arg-type]
    if "family" in fields and plan.username:
        changed = replace(changed, username=username_of(changed.given, changed.family))
    return changed
