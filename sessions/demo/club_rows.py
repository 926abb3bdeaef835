"""Writes the rows of the invented club that do not change from week to week: groups, venues, staff, season."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from athletes.models import (
    Clearance,
    Club,
    CoachAssignment,
    DigitalAge,
    EventGroup,
    Person,
    RulesConfirmed,
    Squad,
    StaffRole,
)
from athletes.services.clubs import begin_club
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.core.running.lengths import METRES, length_cm
from sessions.demo import layout, season, words
from sessions.demo.people import SQUADS, username_of, years_before
from sessions.models import (
    CoachEvening,
    CoachSettings,
    Feature,
    GroupSettings,
    PatternItem,
    Phase,
    SeasonPlan,
    Venue,
    VenueClosing,
    VenueOpening,
    WeekModifier,
)

BEGINNING = timedelta(days=3 * 365)
"""How long before the day of making everything of the club has been in force."""


@dataclass(frozen=True)
class ClubRows:
    """The rows that others refer to, by the keys of the layout; staff by user name."""

    club: Club
    today: date
    groups: Mapping[str, EventGroup]
    squads: Mapping[str, Squad]
    venues: Mapping[str, Venue]
    staff: Mapping[str, Person]

    @property
    def since(self) -> date:
        return self.today - BEGINNING


def write_club(*, today: date) -> ClubRows:
    """Make the club as it is before anybody has joined."""
    club = begin_club(
        name=layout.CLUB_NAME, timezone=layout.ZONE, country=layout.COUNTRY, emergency_number=layout.EMERGENCY
    )
    club.health_contact = "Wilma Sedge, welfare lead"
    club.save(update_fields=["health_contact"])
    DigitalAge.objects.filter(club=club, country=layout.COUNTRY).update(checked_on=today - timedelta(days=50))
    rows = ClubRows(
        club=club,
        today=today,
        groups=_groups(club),
        squads=_squads(club),
        venues=_venues(club),
        staff=_staff_people(club, today),
    )
    _write_hours(rows)
    _write_staff(rows)
    _write_features(rows)
    _write_season(rows)
    _confirm_rules(rows)
    return rows


def _confirm_rules(rows: ClubRows) -> None:
    """The welfare lead has read the club's rules, ages and wordings."""
    admin = rows.staff["ada.inglewick"]
    RulesConfirmed.objects.create(
        club=rows.club,
        book=RulesConfirmed.Book.EUROPE,
        country=layout.COUNTRY,
        digital_age=DigitalAge.objects.get(club=rows.club, country=layout.COUNTRY).age,
        by_name="Wilma Sedge",
        confirmed_on=rows.today - timedelta(days=50),
        entered_by=admin,
    )


def _groups(club: Club) -> dict[str, EventGroup]:
    groups = {
        key: EventGroup(club=club, name=spec.name, discipline=spec.discipline, order=order)
        for order, (key, spec) in enumerate(layout.GROUPS.items(), 1)
    }
    EventGroup.objects.bulk_create(groups.values())
    GroupSettings.objects.bulk_create(_settings(groups[key], spec) for key, spec in layout.GROUPS.items())
    return groups


def _settings(group: EventGroup, spec: layout.GroupSpec) -> GroupSettings:
    low, high = spec.effort_pct or (None, None)
    return GroupSettings(
        club=group.club,
        group=group,
        policy=dict(spec.policy),
        strides=spec.strides,
        rest_s=spec.rest_s,
        run_cm=length_cm(spec.run_m, METRES),
        effort_low_pct=low,
        effort_high_pct=high,
        effort_words=spec.effort_words,
    )


def _squads(club: Club) -> dict[str, Squad]:
    return {
        squad.name: squad
        for squad in Squad.objects.bulk_create(
            Squad(club=club, name=name, order=order) for order, (name, _below) in enumerate(SQUADS, 1)
        )
    }


def _venues(club: Club) -> dict[str, Venue]:
    venues = {
        key: Venue(
            club=club,
            name=spec.name,
            lanes=spec.lanes,
            straight_cm=100 * spec.straight_m,
            has_lights=spec.has_lights,
            is_shared=spec.is_shared,
            latitude=spec.latitude,
            longitude=spec.longitude,
        )
        for key, spec in layout.VENUES.items()
    }
    Venue.objects.bulk_create(venues.values())
    return venues


def _staff_people(club: Club, today: date) -> dict[str, Person]:
    people = {
        spec.username: Person(
            club=club,
            given_name=spec.given,
            family_name=spec.family,
            birth_date=years_before(today, spec.age) - timedelta(days=170),
            email=f"{username_of(spec.given, spec.family)}@chalklane.example",
            phone=f"+353 20 910 9{number:03d}",
        )
        for number, spec in enumerate(layout.STAFF)
    }
    Person.objects.bulk_create(people.values())
    return people


def _write_hours(rows: ClubRows) -> None:
    """Opening hours of venues, one closing to come, and each coach's evenings."""
    anchor = rows.today.isoweekday()
    openings, evenings = [], []
    for day in range(7):
        weekday = layout.weekday_of(day, anchor)
        starts, ends = layout.hours_of(weekday)
        hours = {"club": rows.club, "weekday": weekday, "starts": starts, "ends": ends, "first_day": rows.since}
        for key, spec in layout.VENUES.items():
            if day not in spec.shut_on:
                openings.append(VenueOpening(venue=rows.venues[key], **hours))
        for staff in layout.STAFF:
            if day in staff.evenings:
                evenings.append(CoachEvening(coach=rows.staff[staff.username], **hours))
    VenueOpening.objects.bulk_create(openings)
    CoachEvening.objects.bulk_create(evenings)
    week = IsoWeek(monday_of(rows.today) + timedelta(weeks=3), ZoneInfo(layout.ZONE))
    VenueClosing.objects.create(
        club=rows.club,
        venue=rows.venues[layout.KILN],
        starts_at=week.starts_at,
        ends_at=week.ends_at,
        reason="resurfacing",
    )


def _write_staff(rows: ClubRows) -> None:
    """Roles, assignments, checks; a helper under 18 has no background check."""
    roles, assignments, checks, limits = [], [], [], []
    for spec in layout.STAFF:
        person, dated = rows.staff[spec.username], {"club": rows.club, "first_day": rows.since}
        roles += [StaffRole(person=person, role=role, **dated) for role in spec.roles]
        assignments += [CoachAssignment(coach=person, group=rows.groups[key], **dated) for key in spec.groups]
        if "coach" in spec.roles:
            limits.append(CoachSettings(club=rows.club, coach=person, max_sessions_per_day=2))
            checks += _checks(rows, spec)
    StaffRole.objects.bulk_create(roles)
    CoachAssignment.objects.bulk_create(assignments)
    CoachSettings.objects.bulk_create(limits)
    Clearance.objects.bulk_create(checks)


def _checks(rows: ClubRows, spec: layout.StaffSpec) -> list[Clearance]:
    days = {"first_aid": spec.first_aid_days_left}
    if spec.age >= 18:
        days |= {"background": 2 * 365, "licence": 3 * 365}
    return [
        Clearance(
            club=rows.club,
            coach=rows.staff[spec.username],
            kind=kind,
            seen_on=rows.today - timedelta(days=300),
            expires_on=rows.today + timedelta(days=left),
        )
        for kind, left in sorted(days.items())
    ]


def _write_features(rows: ClubRows) -> None:
    retired_on = rows.today - timedelta(days=90)
    features = Feature.objects.bulk_create(
        Feature(
            club=rows.club,
            code=spec.code,
            label=spec.label,
            description=spec.description,
            retired_on=retired_on if spec.is_retired else None,
            order=order,
        )
        for order, spec in enumerate(words.FEATURES, 1)
    )
    for feature, spec in zip(features, words.FEATURES, strict=True):
        feature.groups.set([rows.groups[key] for key in spec.groups])


def _write_season(rows: ClubRows) -> None:
    plan = SeasonPlan.objects.create(
        club=rows.club,
        name=f"Season {rows.today.year}",
        first_monday=season.first_monday(rows.today),
        weeks=season.WEEKS,
    )
    for spec in season.PHASES:
        phase = Phase.objects.create(
            club=rows.club, season=plan, aim=spec.aim, first_week=spec.first_week, last_week=spec.last_week
        )
        _write_pattern(rows, phase, spec)
    WeekModifier.objects.bulk_create(
        WeekModifier(
            club=rows.club,
            season=plan,
            week=spec.week,
            reason=spec.reason,
            squad=rows.squads[spec.squad] if spec.squad else None,
            most_sessions=spec.most_sessions,
        )
        for spec in season.MODIFIERS
    )


def _write_pattern(rows: ClubRows, phase: Phase, spec: season.PhaseSpec) -> None:
    sessions = list(season.pattern_of(spec))
    anchor = rows.today.isoweekday()
    items = PatternItem.objects.bulk_create(
        _pattern_item(rows, phase, session, order, anchor) for order, session in enumerate(sessions, 1)
    )
    venues, coaches, qualified = PatternItem.venues.through, PatternItem.coaches.through, PatternItem.qualified.through
    pairs = list(zip(items, sessions, strict=True))
    venues.objects.bulk_create(
        venues(patternitem=item, venue=rows.venues[key]) for item, one in pairs for key in one.venues
    )
    coaches.objects.bulk_create(
        coaches(patternitem=item, person=rows.staff[username]) for item, one in pairs for username in _leaders(one)
    )
    qualified.objects.bulk_create(
        qualified(patternitem=item, person=rows.staff[username])
        for item, one in pairs
        if one.with_helper
        for username in _leaders(one)
        if username != layout.HELPER
    )


def _pattern_item(rows: ClubRows, phase: Phase, session: layout.SessionSpec, order: int, anchor: int) -> PatternItem:
    weekday = layout.weekday_of(session.day, anchor)
    starts = layout.usual_start(session, weekday)
    minutes = starts.hour * 60 + starts.minute + session.minutes + 30
    return PatternItem(
        club=rows.club,
        phase=phase,
        group=rows.groups[session.group],
        kind=session.kind,
        also=list(session.also),
        duration_min=session.minutes,
        priority=session.priority,
        lanes=session.lanes,
        observers=session.observers,
        usual_weekday=weekday,
        usual_from=starts,
        usual_until=starts.replace(hour=minutes // 60, minute=minutes % 60),
        order=order,
    )


def _leaders(session: layout.SessionSpec) -> list[str]:
    """The coaches assigned to the group; the helper where the session has one."""
    assigned = [spec for spec in layout.STAFF if session.group in spec.groups]
    return [spec.username for spec in assigned if spec.age >= 18 or session.with_helper]
