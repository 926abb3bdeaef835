"""A training session at a glance for those who lead it: with whom, enough adults or not, who is out (never why)."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from uuid import UUID

from athletes.access import Answers
from athletes.models import Person
from athletes.viewer import Viewer
from sessions.models import Availability, SessionAthlete, TrainingSession
from sessions.selectors.availability import latest_availability
from sessions.selectors.staffing import Staff, adults_among, staff_of
from teamtrack.common.composed import ComposedAmong

Comes = SessionAthlete.Comes
_ROSTERS = ComposedAmong(
    lambda sessions: (
        SessionAthlete.objects.filter(training_session__pk__in=sessions)
        .select_related("athlete")
        .order_by("athlete__given_name", "athlete__family_name", "athlete_id")
    ),
    TrainingSession._meta.pk,
)


@dataclass(frozen=True)
class Out:
    """An athlete who does not come, or not for all of it: what is possible, never a reason."""

    athlete: Person
    is_away: bool
    word: str


@dataclass(frozen=True)
class SessionCard:
    """What somebody who leads a training session needs to know before it."""

    training_session: TrainingSession
    staff: tuple[Staff, ...]
    adults_required: int
    comes_count: int
    out: tuple[Out, ...]
    is_over: bool

    @property
    def adults(self) -> int:
        return adults_among(self.staff)

    @property
    def lacks_adults(self) -> bool:
        return self.adults < self.adults_required


def roster_rows(session_ids: Collection[UUID]) -> list[SessionAthlete]:
    """The rosters of training sessions, by name; one query."""
    return _ROSTERS.rows(session_ids)


def session_cards(
    *, viewer: Viewer, training_sessions: Sequence[TrainingSession], roster: Sequence[SessionAthlete], answers: Answers
) -> tuple[SessionCard, ...]:
    """Cards of training sessions of today, in the order given, what is over last; a fixed number of queries.

    Only athletes whose record the viewer may use are counted, and only whom `availability` allows is named as out.
    """
    ids = [training_session.pk for training_session in training_sessions]
    staff = staff_of(session_ids=ids, day=viewer.today)
    known, open_to_say = answers.allowed_ids("record"), answers.allowed_ids("availability")
    words = latest_availability(training_sessions=training_sessions, athlete_ids=known)
    cards = []
    for training_session in training_sessions:
        rows = [row for row in roster if row.training_session_id == training_session.pk and row.athlete_id in known]
        out = [one for row in rows if (one := out_of(row, words.get((training_session.pk, row.athlete_id))))]
        away = {one.athlete.pk for one in out if one.is_away}
        cards.append(
            SessionCard(
                training_session=training_session,
                staff=staff.get(training_session.pk, ()),
                adults_required=viewer.club.adults_required,
                comes_count=sum(row.athlete_id not in away for row in rows),
                out=tuple(one for one in out if one.athlete.pk in open_to_say),
                is_over=training_session.ends_at <= viewer.now,
            )
        )
    return tuple(sorted(cards, key=lambda card: card.is_over))


def out_of(row: SessionAthlete, word: Availability | None) -> Out | None:
    """Whether an athlete is out: what was said last wins; without a word, how the plan lets them come."""
    if word is not None and word.state == Availability.State.RUN:
        return None
    if word is not None:
        is_away = word.state == Availability.State.NOT_TODAY
        said = word.get_option_display() if word.option else word.get_state_display()
        return Out(row.athlete, is_away, str(said))
    if row.comes == Comes.WHOLE:
        return None
    return Out(row.athlete, row.comes == Comes.AWAY, str(row.get_comes_display()))
