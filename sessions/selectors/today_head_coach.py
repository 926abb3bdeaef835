"""Today as the head coach sees it: what changed, and the club's sessions with whom they are led."""

from dataclasses import dataclass

from athletes.access import answers_for
from athletes.models import EventGroup
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from sessions.access import groups_set_by, training_sessions_visible_to
from sessions.models import Notice, TrainingSession
from sessions.selectors.coaches_out import CoachOut, coaches_out
from sessions.selectors.session_cards import SessionCard, roster_rows, session_cards
from sessions.selectors.today_coach import NEEDS, day_bounds, open_notices


@dataclass(frozen=True)
class HeadCoachBlock:
    """The head coach's Today; `next_session` is the first after today. Who coaches too sees changes in that block."""

    changes: tuple[Notice, ...]
    cards: tuple[SessionCard, ...]
    next_session: TrainingSession | None
    groups: tuple[EventGroup, ...]
    out: tuple[CoachOut, ...]


def head_coach_block(viewer: Viewer) -> HeadCoachBlock:
    """The block of Today for the role head coach."""
    viewer = viewer.acting_as(Role.HEAD_COACH)
    begins, ends = day_bounds(viewer)
    coming = training_sessions_visible_to(viewer).filter(starts_at__gte=begins).order_by("starts_at", "id")
    coming = coming.select_related("venue").prefetch_related("groups")
    today = list(coming.filter(starts_at__lt=ends))
    roster = roster_rows([one.pk for one in today])
    people = {row.athlete_id: row.athlete for row in roster}
    answers = answers_for(viewer=viewer, athletes=people.values(), purposes=("record", "availability"))
    return HeadCoachBlock(
        changes=() if Role.COACH in viewer.roles else _changes(viewer),
        cards=session_cards(viewer=viewer, training_sessions=today, roster=roster, answers=answers),
        next_session=coming.filter(starts_at__gte=ends).first(),
        groups=tuple(groups_set_by(viewer)),
        out=tuple(coaches_out(viewer)),
    )


def _changes(viewer: Viewer) -> tuple[Notice, ...]:
    return tuple(notice for notice in open_notices(viewer) if notice.kind not in NEEDS)
