"""Writes what was recorded at past sessions of the invented club, and the points that its athletes work on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from django.db.models import prefetch_related_objects

from athletes.access import answers_for
from athletes.circumstances.relations import adult_coaches_of
from athletes.core import ages
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Account, Person
from sessions.core.iso_week import monday_of
from sessions.core.running.strides import strides_wanted
from sessions.demo import words
from sessions.demo.history import EntryPlan, Gathering, Runner, draw_entries, points_of
from sessions.demo.weeks import Filling
from sessions.models import Availability, Entry, Feature, Focus, SessionAthlete, TrainingSession
from sessions.services.keep_pain import PainSaid, keep_pain
from teamtrack.common.ids import uuid7

WEEKS_A_POINT = 5
"""For how many weeks an athlete works on the same points."""


@dataclass(frozen=True)
class Knowledge:
    """What is known of the club's people when history is drawn."""

    people: dict[UUID, Person]
    signs_in: frozenset[UUID]
    allows_pain: frozenset[UUID]
    first_monday: date


def write_history(filling: Filling, sessions: Iterable[TrainingSession]) -> None:
    """Entries, words about coming and points in hand of training sessions that are over before the club's today."""
    midnight = filling.week(monday_of(filling.viewer.today)).at(filling.viewer.today, datetime.min.time())
    over = sorted((one for one in sessions if one.ends_at <= midnight), key=lambda one: (one.starts_at, one.pk))
    known = _knowledge(filling)
    entries: list[Entry] = []
    for session in over:
        entries += _session_entries(filling, session, known)
    TrainingSession.objects.bulk_update(over, ["last_seq"])
    pains = [PainSaid(entry.pk, entry.athlete_id, entry.content) for entry in entries if entry.kind == "pain"]
    for entry in entries:
        if entry.kind == "pain":
            entry.content = {}
    Entry.objects.bulk_create(entries, batch_size=2000)
    keep_pain(club_id=filling.viewer.club_id, pains=pains)
    Availability.objects.bulk_create(_words_of_absence(filling, entries, over))


def _knowledge(filling: Filling) -> Knowledge:
    people = {person.pk: person for person in Person.objects.filter(club=filling.viewer.club_id)}
    return Knowledge(
        people=people,
        signs_in=frozenset(Account.objects.filter(person__in=people).values_list("person_id", flat=True)),
        allows_pain=_allow_pain(filling, list(people.values())),
        first_monday=monday_of(filling.viewer.today) - timedelta(weeks=9),
    )


def _allow_pain(filling: Filling, people: list[Person]) -> frozenset[UUID]:
    """Those of whom their coaches may know where it hurts, by the one decision."""
    athletes = [person for person in people if person.memberships.exists()]
    readers = adult_coaches_of(athlete_ids=[person.pk for person in athletes], day=filling.viewer.today)
    answers = answers_for(
        viewer=filling.viewer, athletes=athletes, purposes=["health"], acting_as=ActingRole.COACH, readers=readers
    )
    return frozenset(answers.allowed_ids("health"))


def _session_entries(filling: Filling, session: TrainingSession, known: Knowledge) -> list[Entry]:
    gathering = _gathering(filling, session, known)
    if not gathering.coaches:
        return []
    chance = filling.chance("entries", session.starts_at, *(group.name for group in session.groups.all()))
    plans = draw_entries(chance, gathering)
    by_name = {person.full_name: person.pk for person in known.people.values()}
    session.last_seq = len(plans)
    return [_entry(session, plan, seq, by_name) for seq, plan in enumerate(plans, 1)]


def _gathering(filling: Filling, session: TrainingSession, known: Knowledge) -> Gathering:
    prefetch_related_objects([session], "groups__settings", "session_coaches")
    groups = session.groups.all()
    rows = session.session_athletes.exclude(comes=SessionAthlete.Comes.AWAY).order_by(
        "athlete__family_name", "athlete__given_name"
    )
    features = [row.code for row in _features(session, [group.pk for group in groups])]
    day = session.starts_at.date()
    coaches = [row.coach_id for row in session.session_coaches.all() if row.coach_id not in filling.helpers]
    return Gathering(
        kind=session.kind,
        minutes=int((session.ends_at - session.starts_at).total_seconds()) // 60,
        weeks_trained=max(0, (day - known.first_monday).days // 7),
        coaches=tuple(sorted(known.people[coach].full_name for coach in coaches)),
        runners=tuple(_runner(filling, row, known, features, session) for row in rows),
    )


def _runner(
    filling: Filling, row: SessionAthlete, known: Knowledge, features: Sequence[str], session: TrainingSession
) -> Runner:
    person, day = known.people[row.athlete_id], session.starts_at.date()
    age = None if person.birth_date is None else ages.age_on(person.birth_date, day)
    groups = session.groups.all()
    return Runner(
        key=person.full_name,
        age=ages.counted_age(age),
        strides=strides_wanted(group_default=groups[0].settings.strides, age=age),
        points=_points(filling, person, features, day),
        logs=person.pk in known.signs_in,
        may_keep_pain=person.pk in known.allows_pain,
        is_easier=row.comes == SessionAthlete.Comes.EASIER,
    )


def _points(filling: Filling, person: Person, features: Sequence[str], day: date) -> tuple[str, ...]:
    """The same points for some weeks, then others; an athlete of two groups keeps them in both."""
    block = monday_of(day).toordinal() // 7 // WEEKS_A_POINT
    common = [code for code in features if not words.IN_USE[code].groups]
    return points_of(filling.chance("points", person.full_name, block), common)


def _features(session: TrainingSession, group_ids: list[UUID]) -> list[Feature]:
    rows = Feature.objects.filter(club=session.club_id, code__in=words.IN_USE).prefetch_related("groups")
    return [row for row in rows if not row.groups.all() or any(group.pk in group_ids for group in row.groups.all())]


def _entry(session: TrainingSession, plan: EntryPlan, seq: int, by_name: dict[str, UUID]) -> Entry:
    at = session.starts_at + timedelta(seconds=plan.second, milliseconds=(plan.second * 37) % 1000)
    return Entry(
        id=uuid7(at),
        club_id=session.club_id,
        training_session=session,
        seq=seq,
        kind=plan.kind,
        athlete_id=by_name[plan.about],
        stride=plan.stride,
        at=at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        device="demo-" + ("phone-of-athlete" if plan.by_athlete else "phone-of-coach"),
        by_id=by_name[plan.by],
        by_athlete=plan.by_athlete,
        received_at=at + timedelta(seconds=2),
        content=dict(plan.own),
    )


def _words_of_absence(
    filling: Filling, entries: Sequence[Entry], sessions: Sequence[TrainingSession]
) -> list[Availability]:
    """Two thirds of those who were away had said so, nobody said why; none of the last two weeks, whose plans hold."""
    last_monday = monday_of(filling.viewer.today) - timedelta(weeks=1)
    by_pk = {session.pk: session for session in sessions if session.starts_at.date() < last_monday}
    found = []
    for entry in entries:
        session = by_pk.get(entry.training_session_id)
        if session is None or entry.content != {"state": "away"}:
            continue
        if filling.chance("said", session.starts_at, entry.at).random() < 0.66:
            found.append(
                Availability(
                    club_id=session.club_id,
                    athlete_id=entry.athlete_id,
                    training_session=session,
                    starts_at=session.starts_at,
                    ends_at=session.ends_at,
                    state=Availability.State.NOT_TODAY,
                    said_by_id=entry.by_id,
                    said_as="coach",
                    said_at=session.starts_at - timedelta(hours=3),
                )
            )
    return found


def write_points(filling: Filling) -> None:
    """The points that each athlete works on now, and worked on before."""
    viewer = filling.viewer
    features = {row.code: row for row in Feature.objects.filter(club=viewer.club_id)}
    common = [code for code, spec in words.IN_USE.items() if not spec.groups]
    monday = monday_of(viewer.today)
    begun = monday - timedelta(weeks=monday.toordinal() // 7 % WEEKS_A_POINT)
    rows: list[Focus] = []
    athletes = Person.objects.filter(club=viewer.club_id, memberships__isnull=False).distinct()
    for person in athletes.order_by("family_name", "given_name"):
        coach_id = _a_coach_of(person, viewer.today)
        for since, until in ((begun - timedelta(weeks=WEEKS_A_POINT), begun - timedelta(days=1)), (begun, None)):
            rows += [
                Focus(
                    club_id=viewer.club_id,
                    athlete=person,
                    feature=features[code],
                    since=since,
                    until=until,
                    set_by_id=coach_id,
                )
                for code in _points(filling, person, common, since)
            ]
    Focus.objects.bulk_create(rows)


def _a_coach_of(person: Person, day: date) -> UUID:
    coaches = Person.objects.filter(pk__in=adult_coaches_of(athlete_ids=[person.pk], day=day))
    return coaches.order_by("family_name", "given_name").values_list("pk", flat=True)[0]


def write_words_to_come(filling: Filling) -> None:
    """What some have said about today and next week: modified today, away on one evening of next week."""
    viewer = filling.viewer
    week = filling.week(monday_of(viewer.today))
    midnight = week.at(viewer.today, datetime.min.time())
    today = SessionAthlete.objects.filter(
        training_session__club=viewer.club_id, training_session__kind="technique", comes="whole",
        training_session__starts_at__gte=midnight, training_session__starts_at__lt=midnight + timedelta(days=1),
    ).select_related("training_session").order_by("athlete__family_name", "athlete__given_name")  # fmt: skip
    rows = [_modified(row, option) for row, option in zip(today, ("fewer", "drills"), strict=False)]
    next_week = filling.week(week.monday + timedelta(weeks=1))
    people = Person.objects.filter(club=viewer.club_id, account__isnull=False, memberships__isnull=False)
    for number, person in enumerate(people.order_by("family_name", "given_name")[:4]):
        day = next_week.days[number]
        rows.append(
            Availability(
                club_id=viewer.club_id,
                athlete=person,
                starts_at=next_week.at(day, datetime.min.time()),
                ends_at=next_week.at(day + timedelta(days=1), datetime.min.time()),
                state=Availability.State.NOT_TODAY,
                said_by=person,
                said_as="athlete",
                said_at=midnight - timedelta(hours=5),
            )
        )
    Availability.objects.bulk_create(rows)


def _modified(row: SessionAthlete, option: str) -> Availability:
    session = row.training_session
    return Availability(
        club_id=session.club_id,
        athlete_id=row.athlete_id,
        training_session=session,
        starts_at=session.starts_at,
        ends_at=session.ends_at,
        state=Availability.State.MODIFIED,
        option=option,
        said_by_id=row.athlete_id,
        said_as="athlete",
        said_at=session.starts_at - timedelta(hours=20),
    )
