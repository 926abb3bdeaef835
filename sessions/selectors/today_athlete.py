"""The athlete's block of Today: next session, what changed, what is in hand, what to log."""

from dataclasses import dataclass
from uuid import UUID

from athletes.viewer import Viewer
from sessions.models import Availability, Feature, TrainingSession
from sessions.selectors.emergencies import Opened, told_of_emergencies
from sessions.selectors.own_log import features_in_hand, sessions_to_log
from sessions.selectors.own_plan import OwnSession, coming_sessions


@dataclass(frozen=True)
class AthleteBlock:
    """`today` and `later` in order of time; `to_log`: begun, not yet logged; `told`: pain notes opened in an
    emergency, not yet seen."""

    athlete_id: UUID
    today: tuple[OwnSession, ...]
    later: tuple[OwnSession, ...]
    features: tuple[Feature, ...]
    to_log: tuple[TrainingSession, ...]
    told: tuple[Opened, ...]
    options: tuple[tuple[str, str], ...] = tuple(Availability.Option.choices)

    @property
    def next(self) -> OwnSession | None:
        """What comes next after today."""
        return self.later[0] if self.later else None

    @property
    def changed_later(self) -> tuple[OwnSession, ...]:
        """Later sessions whose change was not seen yet."""
        return tuple(own for own in self.later[1:] if own.change)


def athlete_block(viewer: Viewer) -> AthleteBlock:
    """What an athlete needs today; a fixed number of queries."""
    coming = coming_sessions(viewer=viewer, athletes=[viewer.person]).get(viewer.person_id, [])
    today = [own for own in coming if _day(own, viewer) <= viewer.today]
    return AthleteBlock(
        athlete_id=viewer.person_id,
        today=tuple(today),
        later=tuple(own for own in coming if own not in today),
        features=features_in_hand(viewer),
        to_log=tuple(session for session in sessions_to_log(viewer) if not session.is_logged),  # type: ignore[attr-defined]
        told=tuple(told_of_emergencies(viewer)),
    )


def _day(own: OwnSession, viewer: Viewer) -> object:
    return own.training_session.starts_at.astimezone(viewer.now.tzinfo).date()
