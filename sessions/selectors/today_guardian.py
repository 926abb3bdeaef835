"""The guardian's block of Today: where each child is today, and what changed."""

from dataclasses import dataclass

from athletes.access import athletes_and_answers
from athletes.models import Person
from athletes.viewer import Viewer
from sessions.selectors.emergencies import Opened, told_of_emergencies
from sessions.selectors.own_plan import OwnSession, coming_sessions


@dataclass(frozen=True)
class ChildToday:
    """One child: sessions of today, and later ones with a change not yet seen."""

    athlete: Person
    today: tuple[OwnSession, ...]
    changed: tuple[OwnSession, ...]
    may_say: bool
    next: OwnSession | None = None


@dataclass(frozen=True)
class GuardianBlock:
    """The children whose plan this guardian may see; `told`: pain notes opened in an emergency, not yet seen."""

    children: tuple[ChildToday, ...]
    told: tuple[Opened, ...]


def guardian_block(viewer: Viewer) -> GuardianBlock:
    """What a guardian needs today; the number of queries does not grow with the children."""
    children, answers = athletes_and_answers(viewer, ("plan", "availability"))
    coming = coming_sessions(viewer=viewer, athletes=children)
    return GuardianBlock(
        tuple(
            ChildToday(
                athlete=child,
                today=tuple(own for own in coming.get(child.pk, ()) if _is_today(own, viewer)),
                changed=tuple(own for own in coming.get(child.pk, ()) if own.change and not _is_today(own, viewer)),
                may_say=answers.may(child.pk, "availability"),
                next=next((own for own in coming.get(child.pk, ()) if _is_to_come(own, viewer)), None),
            )
            for child in children
        ),
        tuple(told_of_emergencies(viewer)),
    )


def _is_to_come(own: OwnSession, viewer: Viewer) -> bool:
    return not (_is_today(own, viewer) or own.training_session.is_called_off or own.is_away)


def _is_today(own: OwnSession, viewer: Viewer) -> bool:
    return own.training_session.starts_at.astimezone(viewer.now.tzinfo).date() <= viewer.today
