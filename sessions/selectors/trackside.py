"""Everything that a phone beside the straight needs of one training session, in one piece."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from athletes.access import Answers
from athletes.core import ages
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Club, ContactNumber, EventGroup, GroupMembership, Person
from athletes.viewer import in_force
from sessions.access import Part
from sessions.core.entries.kinds import PURPOSES, Role
from sessions.core.progress.form_history import Seen, Words, form_history, last_strength
from sessions.core.progress.unsuited import Note, is_unsuited
from sessions.core.running.lengths import length_in
from sessions.core.running.strides import has_effort_band, strides_wanted
from sessions.models import Availability, Feature, GroupSettings, SessionAthlete, TrainingSession
from sessions.selectors.availability import latest_availability
from sessions.selectors.form_history import Told, points_in_hand, told_about
from sessions.selectors.group_defaults import features_in_use, looked_for, looks_for, settings_of
from sessions.selectors.session_cards import out_of, roster_rows
from sessions.selectors.staffing import Staff, staff_of
from sessions.selectors.unsuited import notes_of, unsuited_of

HISTORY = timedelta(days=120)
"""How far back a phone carries words and strengths; all of it stands on the Athlete page."""

WEEK = timedelta(days=7)
MOST_PHRASES = 4


@dataclass(frozen=True)
class LastWords:
    """What was told last about one feature, by whom, and what followed it."""

    words: str
    how: str
    day: date
    when: str
    by: str
    followed: str | None


@dataclass(frozen=True)
class RosterAthlete:
    """One athlete on the roster as this reader may see them; what is not allowed is None or empty."""

    person: UUID
    name: str
    given_name: str
    is_minor: bool
    is_away: bool
    out: str
    may: list[str]
    strides: int
    rest_s: int
    distance: str
    effort: str
    strides_a_feature: int
    at_once: int
    features: list[str]
    looks_last_time: int
    points: list[str] | None
    last_words: Mapping[str, LastWords] | None
    does_not_suit: Mapping[str, list[str]] | None
    strength: str | None
    numbers: list[ContactNumber]


@dataclass(frozen=True)
class TracksideFeature:
    """A feature that one of the session's groups looks for or an athlete works on, with wordings that this reader used
    lately."""

    code: str
    label: str
    description: str
    phrases: list[str]


@dataclass(frozen=True)
class Trackside:
    """The bundle of one training session for somebody on its list."""

    person: UUID
    posts_as: Role
    adults_required: int
    emergency_number: str
    health_contact: str
    staff: list[Staff]
    features: list[TracksideFeature]
    athletes: list[RosterAthlete]


@dataclass(frozen=True)
class _Found:
    """What was read for a whole roster at once."""

    part: Part
    answers: Answers
    here: list[EventGroup]
    groups: Mapping[UUID, EventGroup | None]
    settings: Mapping[UUID, GroupSettings]
    features: list[Feature]
    coming: Mapping[tuple[UUID, UUID], Availability]
    points: Mapping[UUID, tuple[Feature, ...]]
    told: Mapping[UUID, Told]
    unsuited: Mapping[UUID, list[Note]]
    looks: Mapping[UUID, int]
    names: Mapping[str, str]
    numbers: Mapping[UUID, list[ContactNumber]]


def trackside(*, part: Part) -> Trackside:
    """The bundle, in a fixed number of queries; athletes whose record may not be used are not in it."""
    rows = roster_rows([part.training_session.pk])
    answers = part.answers_to_reader([row.athlete for row in rows], PURPOSES)
    rows = [row for row in rows if answers.may(row.athlete_id, "record")]
    found = _found(part, answers, rows)
    club = part.viewer.club
    return Trackside(
        person=part.viewer.person_id,
        posts_as=Role.HELPER_UNDER_18 if part.acting_as is ActingRole.COACH_MINOR else Role.COACH,
        adults_required=club.adults_required,
        emergency_number=club.emergency_number,
        health_contact=club.health_contact,
        staff=list(staff_of(session_ids=[part.training_session.pk], day=part.day).get(part.training_session.pk, ())),
        features=_with_phrases(found),
        athletes=[_athlete(row, found) for row in rows],
    )


def _found(part: Part, answers: Answers, rows: Sequence[SessionAthlete]) -> _Found:
    session, viewer = part.training_session, part.viewer
    with_history = [row.athlete_id for row in rows if answers.may(row.athlete_id, "feedback")]
    told = {
        athlete_id: _before(session, one)
        for athlete_id, one in told_about(viewer=viewer, athlete_ids=with_history, back=HISTORY).items()
    }
    unsuited = unsuited_of(viewer=viewer, athlete_ids=with_history)
    coaches = {said.by for one in told.values() for said in one.said}
    here = list(session.groups.all())
    return _Found(
        part=part,
        answers=answers,
        here=here,
        groups=_group_by_athlete(here, [row.athlete_id for row in rows], part.day),
        settings=settings_of(here),
        features=features_in_use(club_id=viewer.club_id, day=part.day),
        coming=latest_availability(training_sessions=[session], athlete_ids=answers.allowed_ids("availability")),
        points=points_in_hand(viewer=viewer, athlete_ids=with_history),
        told=told,
        unsuited={one: notes_of(rows) for one, rows in unsuited.items()},
        looks=_looks_last_time(session, told),
        names={str(coach.pk): coach.given_name for coach in Person.objects.filter(pk__in=coaches)},
        numbers=_numbers(part, [row.athlete_id for row in rows]),
    )


def _before(session: TrainingSession, told: Told) -> Told:
    """What was told at earlier training sessions: the page folds today's entries itself."""
    return Told(
        tuple(one for one in told.seen if one.place.starts_at < session.starts_at),
        tuple(one for one in told.said if one.place.starts_at < session.starts_at),
    )


def _group_by_athlete(
    here: Sequence[EventGroup], athlete_ids: Collection[UUID], day: date
) -> dict[UUID, EventGroup | None]:
    """The session's group that the athlete is in; the first of its groups for a guest."""
    groups = {one.pk: one for one in here}
    members = GroupMembership.objects.filter(in_force(day), group__in=groups, athlete__in=athlete_ids)
    group_of = dict(members.order_by("-group__order").values_list("athlete_id", "group_id"))
    first = next(iter(groups.values()), None)
    return {one: groups.get(group_of.get(one), first) for one in athlete_ids}


def _looks_last_time(session: TrainingSession, told: Mapping[UUID, Told]) -> dict[UUID, int]:
    """How many strides were judged at each athlete's last technique session, one at which nobody looked included."""
    rows = SessionAthlete.objects.filter(
        athlete__in=told,
        training_session__kind=session.kind,
        training_session__state=TrainingSession.State.PUBLISHED,
        training_session__starts_at__lt=session.starts_at,
        training_session__starts_at__gt=session.starts_at - HISTORY,
    ).exclude(comes=SessionAthlete.Comes.AWAY)
    last = dict(rows.order_by("training_session__starts_at").values_list("athlete_id", "training_session_id"))
    return {
        athlete_id: len({one.place.stride for one in told[athlete_id].seen if one.place.session == str(session_id)})
        for athlete_id, session_id in last.items()
    }


def _numbers(part: Part, athlete_ids: Collection[UUID]) -> dict[UUID, list[ContactNumber]]:
    """Numbers to ring, for adults alone: a helper under 18 calls an adult of the session."""
    found: dict[UUID, list[ContactNumber]] = defaultdict(list)
    if part.acting_as is not ActingRole.COACH_MINOR:
        for number in ContactNumber.objects.filter(athlete__in=athlete_ids):
            found[number.athlete_id].append(number)
    return found


def _athlete(row: SessionAthlete, found: _Found) -> RosterAthlete:
    person, group = row.athlete, found.groups[row.athlete_id]
    settings = (found.settings.get(group.pk) if group else None) or GroupSettings()
    age = ages.age_on(person.birth_date, found.part.day) if person.birth_date else None
    told = found.told.get(row.athlete_id)
    strength = last_strength(told.seen) if told else None
    unsuited = found.unsuited.get(person.pk, [])
    out = out_of(row, found.coming.get((row.training_session_id, person.pk)))
    return RosterAthlete(
        person=person.pk,
        name=person.full_name,
        given_name=person.given_name,
        is_minor=ages.is_minor(age),
        is_away=out is not None and out.is_away,
        out=out.word if out else "",
        may=[purpose for purpose in PURPOSES if found.answers.may(person.pk, purpose)],
        strides=strides_wanted(group_default=settings.strides, age=age),
        rest_s=settings.rest_s,
        distance=_distance(settings, found.part.viewer.club),
        effort=_effort(settings) if has_effort_band(age) else "",
        strides_a_feature=settings.strides_a_feature,
        at_once=settings.at_once,
        features=[
            one.code
            for one in found.features
            if looks_for(one, group, settings) and not is_unsuited(unsuited, one.code, "")
        ],
        looks_last_time=found.looks.get(person.pk, 0),
        points=[feature.code for feature in found.points[person.pk]] if told else None,
        last_words=_last_words(told, unsuited, found) if told else None,
        does_not_suit=_unsuited_words(unsuited) if told else None,
        strength=strength.feature if strength else None,
        numbers=found.numbers[person.pk],
    )


def _distance(settings: GroupSettings, club: Club) -> str:
    """How far a stride goes, in the club's unit."""
    return f"{length_in(settings.run_cm, club.distance_unit)} {club.distance_unit}"


def _effort(settings: GroupSettings) -> str:
    if settings.effort_words:
        return settings.effort_words
    if settings.effort_low_pct is None or settings.effort_high_pct is None:
        return ""
    return _("%(low)d to %(high)d %%") % {"low": settings.effort_low_pct, "high": settings.effort_high_pct}


def _last_words(told: Told, unsuited: Collection[Note], found: _Found) -> dict[str, LastWords]:
    """By feature, the last words that suit."""
    last: dict[str, LastWords] = {}
    for history in form_history(seen=told.seen, said=told.said):
        suiting = (one for one in history.words if not is_unsuited(unsuited, history.feature, one.said.words))
        if words := next(suiting, None):
            last[history.feature] = _words(words, found)
    return last


def _unsuited_words(unsuited: Iterable[Note]) -> dict[str, list[str]]:
    """By feature, the words that the page does not offer for this athlete."""
    found: dict[str, list[str]] = defaultdict(list)
    for note in unsuited:
        if note.words:
            found[note.feature].append(note.words)
    return found


def _words(words: Words, found: _Found) -> LastWords:
    said, followed = words.said, words.followed
    day = said.place.starts_at.astimezone(found.part.viewer.now.tzinfo).date()
    return LastWords(
        words=said.words,
        how=said.how,
        day=day,
        when=day_words(day, today=found.part.day),
        by=found.names.get(said.by, ""),
        followed=followed.shown if isinstance(followed, Seen) else None,
    )


def day_words(day: date, *, today: date) -> str:
    """A day of the last week by its name, an earlier one by its date."""
    return date_format(day, "D" if timedelta(0) <= today - day < WEEK else "j M")


def _with_phrases(found: _Found) -> list[TracksideFeature]:
    phrases = _phrases(str(found.part.viewer.person_id), found)
    in_hand = {feature.pk for features in found.points.values() for feature in features}
    wanted = {one.pk for one in looked_for(found.features, found.here, found.settings)} | in_hand
    return [
        TracksideFeature(one.code, one.label, one.description, phrases.get(one.code, []))
        for one in found.features
        if one.pk in wanted
    ]


def _phrases(reader: str, of: _Found) -> dict[str, list[str]]:
    """By feature, the wordings that this reader used last, each once; none that does not suit whom it was told."""
    own = [
        said
        for athlete, told in of.told.items()
        for said in told.said
        if said.by == reader and not is_unsuited(of.unsuited.get(athlete, ()), said.feature, said.words)
    ]
    found: dict[str, list[str]] = defaultdict(list)
    for said in sorted(own, key=lambda one: one.place, reverse=True):
        known = found[said.feature]
        if said.words not in known and len(known) < MOST_PHRASES:
            known.append(said.words)
    return found
