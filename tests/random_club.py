"""Random small clubs in every state that a permission can rest on, and a slow second way to their facts."""

from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from athletes.core.permissions import Facts
from athletes.core.permissions.reading import read_facts
from athletes.models import (
    Clearance,
    Club,
    CoachAssignment,
    DigitalAge,
    EventGroup,
    GroupMembership,
    Guardianship,
    Membership,
    Objection,
    PermissionEvent,
    Person,
    Restriction,
    StaffRole,
    Withholding,
    Wording,
)
from athletes.viewer import Viewer
from tests.people import answer, make_athlete, make_club, make_group, make_person, make_staff

PURPOSES = ("record", "availability", "message", "feedback", "health", "share", "feed", "audit")
VIEW_PURPOSES = ("record", "plan", "availability", "message", "feedback", "health", "audit")
COUNTRIES = ("IE", "FR", "GB", "XX")
AGES = (None, 9, 12, 13, 15, 16, 17, 18, 24)


def make_random_club(seed: int) -> tuple[Club, list[Person], list[Person]]:
    """A club, its athletes, and everybody who may ask."""
    draw = Random(seed)
    club = make_club(country=draw.choice(COUNTRIES[:3]))
    Club.objects.filter(pk=club.pk).update(us_rule=draw.random() < 0.3)
    club.refresh_from_db()
    groups = [make_group(club, f"Group {number}") for number in range(2)]
    coaches = [_coach(draw, club, groups, number) for number in range(3)]
    staff = [make_staff(club, role.title().replace("_", ""), role) for role in ("head_coach", "admin", "welfare")]
    athletes = [_athlete(draw, club, groups, number) for number in range(draw.randint(2, 4))]
    guardians = [make_person(club, f"Guardian{number}", age=45, account=True) for number in range(3)]
    for athlete in athletes:
        _circumstances(draw, athlete, guardians, coaches)
    if draw.random() < 0.3:
        _new_wording(draw, club)
    return club, athletes, [*coaches, *staff, *athletes, *guardians]


def _coach(draw: Random, club: Club, groups: list[EventGroup], number: int) -> Person:
    coach = make_staff(club, f"Coach{number}", "coach", age=draw.choice((16, 17, 30, 30, 30)))
    today = date.today()
    for group in draw.sample(groups, draw.randint(0, 2)):
        last = draw.choice((None, None, today, today - timedelta(days=1)))
        CoachAssignment.objects.create(club=club, coach=coach, group=group, first_day=date(2020, 1, 1), last_day=last)
    if draw.random() < 0.8:
        expires = draw.choice((date(2099, 1, 1), today, today - timedelta(days=1)))
        Clearance.objects.create(
            club=club, coach=coach, kind="background", seen_on=date(2020, 1, 1), expires_on=expires
        )
    return coach


def _athlete(draw: Random, club: Club, groups: list[EventGroup], number: int) -> Person:
    age = draw.choice(AGES)
    athlete = make_athlete(club, f"Athlete{number}", *draw.sample(groups, draw.randint(1, 2)), age=age)
    if age is not None:
        born = date.today() - timedelta(days=age * 365 + age // 4 + draw.choice((0, 1, 40, 100, 300)))
        athlete.birth_date = born
    athlete.home_country = draw.choice(("", *COUNTRIES))
    athlete.save()
    membership = Membership.objects.get(athlete=athlete)
    membership.last_day = draw.choice((None,) * 6 + (date.today() - timedelta(days=1),))
    membership.notice_shown_on = draw.choice((membership.first_day,) * 6 + (None,))
    membership.save()
    return athlete


def _circumstances(draw: Random, athlete: Person, guardians: list[Person], coaches: list[Person]) -> None:
    club, today = athlete.club, date.today()
    mine = draw.sample(guardians, draw.randint(0, 2))
    for guardian in mine:
        Guardianship.objects.create(
            club=club,
            guardian=guardian,
            athlete=athlete,
            authority=draw.choice(("full", "full", "full", "care", "limited", "unverified")),
            first_day=date(2020, 1, 1),
        )
        for purpose in VIEW_PURPOSES:
            if draw.random() < 0.3:
                answer(athlete, athlete, purpose, draw.choice(("yes", "no", "withdrawn")), about_guardian=guardian)
        if draw.random() < 0.15:
            Withholding.objects.create(
                club=club, athlete=athlete, guardian=guardian, set_by=coaches[0], first_day=today
            )
    for purpose in ("record", "health", "share", "feed"):
        for giver in (*mine, athlete):
            for _ in range(draw.choice((0, 1, 1, 2))):
                _random_answer(draw, athlete, giver, purpose, coaches)
        if draw.random() < 0.1:
            Restriction.objects.create(club=club, athlete=athlete, purpose=purpose, first_day=today)
    if draw.random() < 0.1:
        Objection.objects.create(club=club, athlete=athlete, purpose="feedback", first_day=today)


def _random_answer(draw: Random, athlete: Person, giver: Person, purpose: str, coaches: list[Person]) -> None:
    zone = ZoneInfo(athlete.club.timezone)
    days_ago = draw.choice((0, 1, 30, 120, 500, 900))
    at = datetime.now(zone) - timedelta(days=days_ago, minutes=1)
    event = answer(
        athlete,
        giver,
        purpose,
        draw.choice(("yes", "yes", "yes", "no", "withdrawn")),
        names=tuple(draw.sample(coaches, draw.randint(1, 3))),
        at=at,
        evidence=draw.choice((1, 2, 2, 2)),
    )
    until = draw.choice((None, None, None, at + timedelta(days=60), at + timedelta(days=2000)))
    PermissionEvent.objects.filter(pk=event.pk).update(until=until)


def _new_wording(draw: Random, club: Club) -> None:
    old = Wording.objects.filter(club=club, purpose="health", child_level=False).get()
    Wording.objects.create(
        club=club,
        purpose="health",
        version=2,
        change=draw.choice(("minor", "material")),
        question=old.question + "?",
        explanation=old.explanation,
        in_force_from=datetime.now(ZoneInfo(club.timezone)) - timedelta(days=60),
    )


def facts_one_by_one(viewer: Viewer, athlete: Person, purpose: str, act: str = "use") -> Facts:
    """The same facts by the slow way: row by row, dates left to the reading of fact rows."""
    club, today = viewer.club, viewer.today
    asked = "record" if purpose in ("record", "availability", "message", "feedback", "plan") else purpose
    events = [e for e in athlete.permission_events.order_by("at", "id") if not e.about_guardian and e.purpose == asked]
    if asked == "record" and not club.us_rule:
        events = []
    if act == "view_as_guardian":
        views = athlete.permission_events.filter(about_guardian=viewer.person_id, purpose=purpose)
        own = views.order_by("at", "id").last()
    else:
        own = next((e for e in reversed(events) if e.giver_id == athlete.pk and e.capacity == "athlete"), None)
    links = sorted(
        (link for link in athlete.guarded_by.all() if _holds(link, today)),
        key=lambda link: (link.guardian_id != viewer.person_id, link.guardian_id),
    )
    latest = {
        link.guardian_id: next(
            (e for e in reversed(events) if e.giver_id == link.guardian_id and e.capacity == "guardian"), None
        )
        for link in links
    }
    strange = viewer.role == "guardian" and viewer.person_id not in latest
    countries = {club.country, athlete.home_country or club.country}
    laws = [DigitalAge.objects.filter(club=club, country=c).order_by("valid_from").last() for c in sorted(countries)]
    digital = [law.age if law else 16 for law in laws]
    full = [latest[link.guardian_id] for link in links if link.authority == "full"]
    full_yes = [event for event in full if event is not None and event.answer == "yes"]
    row = {
        "act": act,
        "purpose": purpose,
        "by": _role_towards(viewer, athlete),
        "now": viewer.now.isoformat(),
        "zone": club.timezone,
        "born": athlete.birth_date.isoformat() if athlete.birth_date else None,
        "digital_age": digital,
        "athlete": _own_stance(own, athlete, max(digital), viewer),
        "guardians": [{"authority": "unverified"}] * strange
        + [
            {"stance": event.answer if (event := latest[link.guardian_id]) else "none", "authority": link.authority}
            for link in links
        ],
        "joint_rule": any(law.joint for law in laws if law),
        "us_under_13": club.us_rule,
        "membership": "member" if any(_holds(m, today) for m in athlete.memberships.all()) else "left",
        "notice_shown": any(_holds(m, today) and m.notice_shown_on is not None for m in athlete.memberships.all()),
        "restricted": any(r.purpose == purpose and _holds(r, today) for r in athlete.restrictions.all()),
        "objection": "upheld" if any(o.purpose == purpose for o in athlete.objections.all()) else "none",
        "withheld": athlete.withholdings.filter(guardian=viewer.person_id).exists(),
    }  # fmt: skip
    rests_on = _rests_on(own, full_yes, row, viewer, asked)
    row["evidence"] = min((event.evidence for event in rests_on), default=2)
    row["named_recipient"] = bool(rests_on) and all(
        event.recipients.filter(person=viewer.person_id).exists() for event in rests_on
    )
    newest = Wording.objects.filter(club=club, purpose=asked, change="material").order_by("version").last()
    if any(event.wording.version < newest.version for event in rests_on if newest):
        row["wording"] = "material_change"
    ends = [event.until for event in rests_on if event.until]
    if ends:
        row["until"] = min(ends).isoformat()
    answered = min((event.at.astimezone(ZoneInfo(club.timezone)).date() for event in full_yes), default=None)
    row["answered"] = answered.isoformat() if answered else None
    return read_facts(row)


def _holds(row: object, today: date) -> bool:
    return row.first_day <= today and (row.last_day is None or row.last_day >= today)


def _years(person: Person, day: date) -> int:
    born = person.birth_date
    return 9 if born is None else day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def _own_stance(own: PermissionEvent | None, athlete: Person, digital: int, viewer: Viewer) -> str:
    if own is None:
        return "none"
    day = own.at.astimezone(ZoneInfo(viewer.club.timezone)).date()
    grown = _years(athlete, viewer.today) >= digital > _years(athlete, day)
    return "assent" if own.answer == "yes" and athlete.birth_date and grown else own.answer


def _rests_on(own, full_yes, row, viewer: Viewer, asked: str) -> list[PermissionEvent]:  # type: ignore[no-untyped-def]
    """Under the digital age a guardian's yes; from 18 the athlete's; between, the athlete's, for health both."""
    athlete_yes = [own] if row["athlete"] == "yes" else []
    named = [event for event in full_yes if event.recipients.filter(person=viewer.person_id).exists()]
    strongest = max(named or full_yes, key=lambda event: event.evidence, default=None)
    guardian_yes = [strongest] if strongest else []
    person = own.athlete if own else (strongest.athlete if strongest else None)
    age = _years(person, viewer.today) if person else 9
    if age < max(row["digital_age"]):
        return guardian_yes
    if age < 18 and asked == "health":
        return guardian_yes + athlete_yes
    return athlete_yes or guardian_yes


def _role_towards(viewer: Viewer, athlete: Person) -> str:
    if viewer.role != "coach":
        return viewer.role
    today = viewer.today
    groups = [m.group_id for m in GroupMembership.objects.filter(athlete=athlete) if _holds(m, today)]
    rows = [a for a in CoachAssignment.objects.filter(coach=viewer.person_id, group__in=groups) if a.first_day <= today]
    if not rows:
        return "coach_other"
    in_force = any(_holds(row, today) for row in rows)
    if _years(viewer.person, today) < 18:
        return "coach_minor" if in_force else "coach_ended"
    checked = Clearance.objects.filter(coach=viewer.person_id, kind="background", expires_on__gte=today).exists()
    return "coach" if in_force and checked else "coach_ended"


def roles_of(person: Person) -> list[str]:
    """The roles in which somebody may ask."""
    given = list(StaffRole.objects.filter(person=person).values_list("role", flat=True))
    return given + ["athlete"] * person.memberships.exists() + ["guardian"] * person.guardian_of.exists()
