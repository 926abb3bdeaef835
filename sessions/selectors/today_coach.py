"""Today as a coach sees it: what changed, who wants a person, the next session with whom, who is out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from uuid import UUID

from django.db.models import QuerySet

from athletes.access import Answers, answers_for
from athletes.circumstances.relations import role_of_coach_on
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Club, DataRequest, EventGroup, Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from sessions.access import groups_set_by
from sessions.models import Notice, SessionAthlete, TrainingSession
from sessions.selectors.session_cards import SessionCard, roster_rows, session_cards
from sessions.selectors.session_groups import read_groups
from sessions.selectors.written import asked_of_coach
from teamtrack.common.composed import Composed, Given
from teamtrack.common.row_security import rows_open

PURPOSES = ("record", "availability", "health", "feedback")
NEEDS = {
    Notice.Kind.STOPPED: "availability",
    Notice.Kind.NOT_COMING: "availability",
    Notice.Kind.PAIN: "health",
    Notice.Kind.STOP_ASKED: "feedback",
}


@dataclass(frozen=True)
class CoachBlock:
    """One coach's Today; `next_session` is the first after today, `groups` those whose defaults are theirs to set,
    `asked` what families ask to have put right of what is written; `may_run`: a helper under 18 calls nothing off."""

    changes: tuple[Notice, ...]
    wanted: tuple[Notice, ...]
    cards: tuple[SessionCard, ...]
    next_session: TrainingSession | None
    groups: tuple[EventGroup, ...]
    asked: tuple[DataRequest, ...] = ()
    may_run: bool = True


def coach_block(viewer: Viewer) -> CoachBlock:
    """The block of Today for the role coach."""
    viewer = viewer.acting_as(Role.COACH)
    begins, ends = day_bounds(viewer)
    mine = {"coach": viewer.person_id, "club": viewer.club_id}
    today = _LED_BETWEEN.rows(**mine, begins=begins, ends=ends)
    following = _LED_NEXT.rows(**mine, begins=ends)
    read_groups([*today, *following])
    roster = roster_rows([one.pk for one in today])
    notices = open_notices(viewer)
    acting_as = role_of_coach_on(viewer=viewer, day=viewer.today)
    answers = _answers(viewer, roster, notices, acting_as)
    shown = [notice for notice in notices if _may_be_told(notice, answers)]
    return CoachBlock(
        changes=tuple(notice for notice in shown if notice.kind not in NEEDS),
        wanted=tuple(notice for notice in shown if notice.kind in NEEDS),
        cards=session_cards(viewer=viewer, training_sessions=today, roster=roster, answers=answers.on_list),
        next_session=next(iter(following), None),
        groups=tuple(groups_set_by(viewer, acting_as=acting_as)),
        asked=tuple(asked_of_coach(viewer)),
        may_run=acting_as is not ActingRole.COACH_MINOR,
    )


def day_bounds(viewer: Viewer) -> tuple[datetime, datetime]:
    """The first instant of the club's day and of the next."""
    zone = viewer.now.tzinfo
    begins = datetime.combine(viewer.today, time(), zone)
    ends = datetime.combine(viewer.today + timedelta(days=1), time(), zone)
    return begins.astimezone(UTC), ends.astimezone(UTC)


def led_sessions(viewer: Viewer) -> QuerySet[TrainingSession]:
    """The training sessions on whose list the viewer is."""
    return _led(viewer.person_id, viewer.club_id).prefetch_related("groups")


def open_notices(viewer: Viewer) -> list[Notice]:
    """The viewer's notices not seen yet, newest first, those made together in order of their sessions."""
    with rows_open(people=[viewer.person_id]):
        found = _UNSEEN.rows(to=viewer.person_id, club=viewer.club_id)
        read_groups([one.training_session for one in found if one.training_session])
    return found


def _led(coach: UUID | Given, club: UUID | Given) -> QuerySet[TrainingSession]:
    """The training sessions of a club on whose list a coach is."""
    rows = TrainingSession.objects.filter(club=club, session_coaches__coach=coach, session_coaches__taken_off_at=None)
    return rows.select_related("venue")


_CLUB, _COACH = Given("club", Club._meta.pk), Given("coach", Person._meta.pk)
_STARTS = TrainingSession._meta.get_field("starts_at")
_BEGINS, _ENDS = Given("begins", _STARTS), Given("ends", _STARTS)
_LED_BETWEEN = Composed(
    lambda: _led(_COACH, _CLUB).filter(starts_at__gte=_BEGINS, starts_at__lt=_ENDS).order_by("starts_at", "id")
)
_LED_NEXT = Composed(lambda: _led(_COACH, _CLUB).filter(starts_at__gte=_BEGINS).order_by("starts_at", "id")[:1])
_UNSEEN = Composed(
    lambda: (
        Notice.objects.filter(to=Given("to", Person._meta.pk), club=_CLUB, seen_at=None)
        .exclude(kind=Notice.Kind.EMERGENCY)  # told in the role in which it concerns the viewer
        .select_related("about", "training_session__venue")
        .order_by("-made_at", "training_session__starts_at", "id")
    )
)


@dataclass(frozen=True)
class _Answers:
    """The decision for the rosters of today as its list says, and for others by the coach's assignments."""

    on_list: Answers
    assigned: Answers | None
    rostered: frozenset[tuple[UUID, UUID]]

    def of(self, notice: Notice) -> Answers | None:
        of_today = (notice.training_session_id, notice.about_id) in self.rostered
        return self.on_list if of_today else self.assigned


def _answers(
    viewer: Viewer, roster: Sequence[SessionAthlete], notices: Sequence[Notice], acting_as: ActingRole
) -> _Answers:
    rostered = frozenset((row.training_session_id, row.athlete_id) for row in roster)
    people = {row.athlete_id: row.athlete for row in roster}
    others: dict[UUID, Person] = {
        notice.about.pk: notice.about
        for notice in notices
        if notice.about and (notice.training_session_id, notice.about_id) not in rostered
    }
    return _Answers(
        on_list=answers_for(
            viewer=viewer,
            athletes=people.values(),
            purposes=PURPOSES,
            acting_as=acting_as,
        ),
        assigned=answers_for(viewer=viewer, athletes=others.values(), purposes=PURPOSES) if others else None,
        rostered=rostered,
    )


def _may_be_told(notice: Notice, answers: _Answers) -> bool:
    """A notice about an athlete is shown only while its purpose is allowed; one about the plan always."""
    if notice.about is None or notice.kind not in NEEDS:
        return True
    asked = answers.of(notice)
    return asked is not None and asked.may(notice.about.pk, NEEDS[Notice.Kind(notice.kind)])
