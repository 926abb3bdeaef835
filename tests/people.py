"""The same few people in every test: makers of rows, and a small club with one of each."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import count
from zoneinfo import ZoneInfo

from athletes.models import (
    Account,
    Clearance,
    Club,
    CoachAssignment,
    DataRequest,
    EventGroup,
    GroupMembership,
    Guardianship,
    Membership,
    PermissionEvent,
    PermissionRecipient,
    Person,
    StaffRole,
    Wording,
)
from athletes.services.clubs import begin_club
from sessions.models import Feature, PaperSheet, SessionAthlete, SessionCoach, TrainingSession, Venue
from teamtrack.common.clock import now_in, today_in

PASSWORD = "four quiet words here"
_numbers = count(1)


def make_club(*, name: str = "Chalk Lane AC", timezone: str = "Europe/Dublin", country: str = "IE") -> Club:
    return begin_club(name=name, timezone=timezone, country=country, emergency_number="112")


def make_person(club: Club, given_name: str, *, age: int | None = 30, account: bool = False) -> Person:
    today = today_in(club.timezone)
    born = None if age is None else date(today.year - age, 1, 1)
    person = Person.objects.create(club=club, given_name=given_name, family_name="Tester", birth_date=born)
    if account:
        Account.objects.create_account(
            username=f"{given_name.lower()}-{next(_numbers)}", password=PASSWORD, person=person, handed_over=True
        )
    return person


def make_staff(club: Club, given_name: str, role: str, *, age: int = 40) -> Person:
    person = make_person(club, given_name, age=age, account=True)
    StaffRole.objects.create(club=club, person=person, role=role, first_day=date(2020, 1, 1))
    return person


def make_coach(club: Club, given_name: str, *groups: EventGroup, age: int = 35, checked: bool = True) -> Person:
    coach = make_staff(club, given_name, "coach", age=age)
    for group in groups:
        CoachAssignment.objects.create(club=club, coach=coach, group=group, first_day=date(2020, 1, 1))
    if checked and age >= 18:
        Clearance.objects.create(
            club=club, coach=coach, kind="background", seen_on=date(2020, 1, 1), expires_on=date(2099, 1, 1)
        )
    return coach


def make_group(club: Club, name: str = "Sprint", discipline: str = "sprint") -> EventGroup:
    return EventGroup.objects.create(club=club, name=name, discipline=discipline)


def make_athlete(
    club: Club, given_name: str, *groups: EventGroup, age: int | None = 15, account: bool = True
) -> Person:
    athlete = make_person(club, given_name, age=age, account=account)
    first_day = date(2020, 1, 1)
    Membership.objects.create(club=club, athlete=athlete, first_day=first_day, notice_shown_on=first_day)
    for group in groups:
        GroupMembership.objects.create(club=club, athlete=athlete, group=group, first_day=first_day)
    return athlete


def make_guardian(athlete: Person, given_name: str, *, authority: str = "full", account: bool = True) -> Person:
    guardian = make_person(athlete.club, given_name, age=45, account=account)
    link_guardian(guardian, athlete, authority=authority)
    return guardian


def link_guardian(guardian: Person, athlete: Person, *, authority: str = "full") -> None:
    Guardianship.objects.create(
        club=athlete.club, guardian=guardian, athlete=athlete, authority=authority, first_day=date(2020, 1, 1)
    )


def answer(
    athlete: Person,
    giver: Person,
    purpose: str = "health",
    word: str = "yes",
    *,
    names: tuple[Person, ...] = (),
    at: datetime | None = None,
    evidence: int = 2,
    about_guardian: Person | None = None,
) -> PermissionEvent:
    """An answer as a row, whoever would be entitled to it."""
    club = athlete.club
    event = PermissionEvent.objects.create(
        club=club,
        athlete=athlete,
        giver=giver,
        capacity="athlete" if giver == athlete else "guardian",
        purpose=purpose,
        answer=word,
        wording=_wording(club, purpose),
        about_guardian=about_guardian,
        at=at or now_in(club.timezone),
        method="screen",
        evidence=evidence,
        entered_by=giver,
    )
    PermissionRecipient.objects.bulk_create(PermissionRecipient(club=club, event=event, person=p) for p in names)
    return event


def _wording(club: Club, purpose: str) -> Wording:
    """The newest wording of a purpose; about a guardian's view the notice stands in."""
    rows = Wording.objects.filter(club=club).order_by("-version")
    return rows.filter(purpose=purpose).first() or rows.filter(purpose="record").first()


def make_data_request(athlete: Person) -> DataRequest:
    """The athlete asked today to see what is kept."""
    today = today_in(athlete.club.timezone)
    return DataRequest.objects.create(
        club=athlete.club,
        athlete=athlete,
        asked_by=athlete,
        capacity="athlete",
        kind="access",
        received_on=today,
        due_on=today + timedelta(days=28),
        code="OWN_DATA",
        entered_by=athlete,
    )


def make_venue(club: Club, name: str = "Straight A", *, lanes: int = 8) -> Venue:
    return Venue.objects.create(club=club, name=name, lanes=lanes, straight_cm=13000)


def make_feature(club: Club, code: str = "tall_hips", label: str = "Tall hips") -> Feature:
    return Feature.objects.create(club=club, code=code, label=label)


def make_session(
    group: EventGroup,
    *,
    kind: str = "technique",
    day: date | None = None,
    starts: time = time(18),
    minutes: int = 60,
    coaches: tuple[Person, ...] = (),
    helpers: tuple[Person, ...] = (),
    athletes: tuple[Person, ...] = (),
    venue: Venue | None = None,
) -> TrainingSession:
    """A published training session on a day (today if not given) at the club's wall time."""
    club = group.club
    start = datetime.combine(day or today_in(club.timezone), starts, ZoneInfo(club.timezone))
    training_session = TrainingSession.objects.create(
        club=club, kind=kind, starts_at=start, ends_at=start + timedelta(minutes=minutes), venue=venue
    )
    training_session.groups.add(group)
    for part, people in (("coach", coaches), ("helper", helpers)):
        for person in people:
            SessionCoach.objects.create(club=club, training_session=training_session, coach=person, part=part)
    for athlete in athletes:
        SessionAthlete.objects.create(club=club, training_session=training_session, athlete=athlete)
    return training_session


def make_sheet(
    training_session: TrainingSession, printed_by: Person, *athletes: Person, strides: int = 3
) -> PaperSheet:
    """A printed grid with a line for each athlete: tall hips is looked for."""
    rows = [{"athlete": str(athlete.pk), "point": "tall_hips", "strides": strides} for athlete in athletes]
    now = now_in(training_session.club.timezone).replace(microsecond=0)
    return PaperSheet.objects.create(
        club=training_session.club,
        training_session=training_session,
        number=101,
        printed_at=now,
        printed_by=printed_by,
        rows=rows,
    )


@dataclass
class Scene:
    """A small club: one of each role, a technique session of today, and a stranger's club beside it."""

    club: Club
    group: EventGroup
    other_group: EventGroup
    venue: Venue
    feature: Feature
    head_coach: Person
    coach: Person
    second_coach: Person
    helper: Person
    other_coach: Person
    admin: Person
    welfare: Person
    athlete: Person
    child: Person
    adult_athlete: Person
    guardian: Person
    care_guardian: Person
    training_session: TrainingSession
    data_request: DataRequest
    stranger_club: Club
    stranger: Person
    stranger_athlete: Person


def make_scene() -> Scene:
    club = make_club()
    group, other_group = make_group(club), make_group(club, "Longer distance", "distance")
    venue, feature = make_venue(club), make_feature(club)
    coach, second_coach = make_coach(club, "Rona", group), make_coach(club, "Bran", group)
    helper = make_coach(club, "Piet", group, age=16)
    athlete, child = make_athlete(club, "Noela", group, age=16), make_athlete(club, "Ivo", group, age=11)
    guardian = make_guardian(athlete, "Greta")
    link_guardian(guardian, child)
    stranger_club = make_club(name="Far Meadow Harriers")
    stranger_group = make_group(stranger_club)
    athletes = (athlete, child, make_athlete(club, "Tam", group, age=21))
    training_session = make_session(
        group, coaches=(coach, second_coach), helpers=(helper,), athletes=athletes, venue=venue
    )
    make_sheet(training_session, coach, *athletes)
    return Scene(
        club=club,
        group=group,
        other_group=other_group,
        venue=venue,
        feature=feature,
        head_coach=make_staff(club, "Hedda", "head_coach"),
        coach=coach,
        second_coach=second_coach,
        helper=helper,
        other_coach=make_coach(club, "Odo", other_group),
        admin=make_staff(club, "Ada", "admin"),
        welfare=make_staff(club, "Wilma", "welfare"),
        athlete=athlete,
        child=child,
        adult_athlete=athletes[2],
        guardian=guardian,
        care_guardian=make_guardian(child, "Carla", authority="care"),
        training_session=training_session,
        data_request=make_data_request(athlete),
        stranger_club=stranger_club,
        stranger=make_coach(stranger_club, "Sten", stranger_group),
        stranger_athlete=make_athlete(stranger_club, "Una", stranger_group),
    )
