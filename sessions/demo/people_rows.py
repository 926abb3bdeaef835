"""Writes the rows of the athletes and families of the invented club, and how they answered."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from athletes.core import ages
from athletes.models import (
    ContactNumber,
    GroupMembership,
    Guardianship,
    Membership,
    PermissionEvent,
    PermissionRecipient,
    Person,
    SquadMembership,
    Withholding,
    Wording,
)
from sessions.demo import layout
from sessions.demo.answers import AnswerPlan, answers_of
from sessions.demo.club_rows import ClubRows
from sessions.demo.people import ALL, AthletePlan, GuardianPlan, username_of

RELATIONS = ("mother", "father", "grandmother", "stepfather", "aunt")


@dataclass(frozen=True)
class Family:
    """An athlete's row with the rows of the guardians, in the order of the plan."""

    plan: AthletePlan
    athlete: Person
    guardians: tuple[Person, ...]


def write_people(rows: ClubRows, plans: list[AthletePlan], *, seed: int) -> list[Family]:
    """Athletes, guardians, memberships, numbers to ring, answers."""
    families = _families(rows, plans)
    _write_memberships(rows, families)
    _write_guardianships(rows, families)
    ContactNumber.objects.bulk_create(number for family in families for number in _numbers(rows, family))
    _write_answers(rows, families, Random(f"{seed}:answers"))  # noqa: S311 - a seeded club, no secret
    _withhold_one_view(rows, families)
    return families


def _families(rows: ClubRows, plans: list[AthletePlan]) -> list[Family]:
    known = {(person.given_name, person.family_name): person for person in rows.staff.values()}
    athletes = [_athlete(rows, plan) for plan in plans]
    guardians = dict.fromkeys(guardian for plan in plans for guardian in plan.guardians)
    found = {
        guardian: known.get((guardian.given, guardian.family)) or _guardian(rows, guardian) for guardian in guardians
    }
    new = [person for person in found.values() if person not in known.values()]
    Person.objects.bulk_create([*athletes, *new])
    return [
        Family(plan, athlete, tuple(found[guardian] for guardian in plan.guardians))
        for plan, athlete in zip(plans, athletes, strict=True)
    ]


def _athlete(rows: ClubRows, plan: AthletePlan) -> Person:
    return Person(
        club=rows.club,
        given_name=plan.given,
        family_name=plan.family,
        birth_date=plan.born,
        home_country=plan.home_country,
        phone=plan.phone,
    )


def _guardian(rows: ClubRows, plan: GuardianPlan) -> Person:
    return Person(
        club=rows.club,
        given_name=plan.given,
        family_name=plan.family,
        birth_date=date(rows.today.year - 44, 6, 1),
        email=f"{username_of(plan.given, plan.family)}@post.example",
        phone=plan.phone,
    )


def _write_memberships(rows: ClubRows, families: list[Family]) -> None:
    memberships, squads, groups = [], [], []
    for family in families:
        plan = family.plan
        common = {"club": rows.club, "athlete": family.athlete, "first_day": plan.joined}
        memberships.append(Membership(notice_shown_on=plan.joined, weekly_minutes_cap=plan.minutes_cap, **common))
        squads.append(SquadMembership(squad=rows.squads[plan.squad], **common))
        groups += [GroupMembership(group=rows.groups[key], **common) for key in plan.groups]
    Membership.objects.bulk_create(memberships)
    SquadMembership.objects.bulk_create(squads)
    GroupMembership.objects.bulk_create(groups)


def _write_guardianships(rows: ClubRows, families: list[Family]) -> None:
    Guardianship.objects.bulk_create(
        Guardianship(
            club=rows.club,
            guardian=person,
            athlete=family.athlete,
            authority=guardian.authority,
            first_day=family.plan.joined,
        )
        for family in families
        for guardian, person in zip(family.plan.guardians, family.guardians, strict=True)
    )


def _numbers(rows: ClubRows, family: Family) -> Iterator[ContactNumber]:
    """Guardians of minors, somebody of their own for adults; the child of unknown birth date has none yet."""
    if family.plan.born is None:
        return
    for order, (plan, person) in enumerate(zip(family.plan.guardians, family.guardians, strict=True), 1):
        yield ContactNumber(
            club=rows.club,
            athlete=family.athlete,
            name=person.full_name,
            relation="host family" if plan.authority == "care" else RELATIONS[(len(plan.given) + order) % 2],
            phone=plan.phone,
            order=order,
            may_collect=plan.may_collect,
        )
    if not family.guardians:
        yield ContactNumber(
            club=rows.club,
            athlete=family.athlete,
            name=f"{family.plan.family} household",
            relation="at home",
            phone=family.plan.phone,
        )


def _write_answers(rows: ClubRows, families: list[Family], rng: Random) -> None:
    events, named = [], []
    wordings = {(row.purpose, row.child_level): row for row in Wording.objects.filter(club=rows.club)}
    for family in families:
        born = family.plan.born
        age = None if born is None else ages.age_on(born, rows.today)
        for plan in answers_of(family.plan.answered, age, rng.randrange(30, 120)):
            event = _event(rows, family, plan, wordings)
            events.append(event)
            if plan.answer == "yes":
                named += [
                    PermissionRecipient(club=rows.club, event=event, person=person)
                    for person in _recipients(rows, family, plan.purpose)
                ]
    PermissionEvent.objects.bulk_create(events)
    PermissionRecipient.objects.bulk_create(named)


def _event(
    rows: ClubRows, family: Family, plan: AnswerPlan, wordings: dict[tuple[str, bool], Wording]
) -> PermissionEvent:
    giver = family.athlete if plan.by_athlete else family.guardians[0]
    at = datetime.combine(rows.today - timedelta(days=plan.days_ago), time(19, 30), ZoneInfo(layout.ZONE))
    return PermissionEvent(
        club=rows.club,
        athlete=family.athlete,
        giver=giver,
        capacity="athlete" if plan.by_athlete else "guardian",
        purpose=plan.purpose,
        answer=plan.answer,
        wording=wordings[plan.purpose, False],
        at=at,
        until=at + timedelta(days=plan.good_for_days) if plan.answer == "yes" else None,
        method="paper" if plan.on_paper else "screen",
        evidence=plan.evidence,
        entered_by=rows.staff["ada.inglewick"] if plan.on_paper else giver,
    )


def _recipients(rows: ClubRows, family: Family, purpose: str) -> list[Person]:
    """Adult coaches of the own groups; for `share` the head coach and a coach of another group, too."""
    if purpose == "feed":
        return [family.athlete, *family.guardians[:1]]
    coaches = [spec for spec in layout.STAFF if "coach" in spec.roles and spec.age >= 18]
    own = [spec for spec in coaches if set(spec.groups) & set(family.plan.groups)]
    if purpose == "health":
        return [rows.staff[spec.username] for spec in own]
    other = next(spec for spec in coaches if spec not in own)
    return [rows.staff[spec.username] for spec in (*own, other)] + [rows.staff["hedda.vantage"]]


def _withhold_one_view(rows: ClubRows, families: list[Family]) -> None:
    """The welfare lead withholds one child's record from a second guardian who may decide."""
    family = next(
        family
        for family in families
        if len(family.guardians) == 2
        and family.plan.answered == ALL
        and family.plan.guardians[1].authority == "full"
        and not family.plan.guardians[1].username
    )
    Withholding.objects.create(
        club=rows.club,
        athlete=family.athlete,
        guardian=family.guardians[1],
        set_by=rows.staff["wilma.sedge"],
        first_day=rows.today - timedelta(days=40),
    )
