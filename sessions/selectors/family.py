"""The Family page: each child's next sessions, changes and open questions, what the guardian may see and why."""

from collections.abc import Sequence
from dataclasses import dataclass

from athletes.access import Answers
from athletes.core.permissions import Answer
from athletes.models import Person
from athletes.selectors.contacts import is_decided_by
from athletes.selectors.permission_questions import unanswered_counts
from athletes.viewer import Viewer
from sessions.core.other_sports import SportTime
from sessions.selectors.other_sports import other_sports_of
from sessions.selectors.own_plan import AHEAD, OwnSession, coming_sessions

VIEWS = ("record", "plan", "availability", "message", "feedback", "health")


@dataclass(frozen=True)
class Child:
    """One child as one guardian sees it; `views` are the purposes that this guardian may see, with the reason.

    `may_set_numbers`: who decides for the child also says whom the club rings. `sports`: what the child does elsewhere
    in the same days.
    """

    athlete: Person
    sessions: tuple[OwnSession, ...]
    open_questions: int
    views: tuple[tuple[str, Answer], ...]
    may_say: bool
    may_set_numbers: bool
    sports: tuple[SportTime, ...] = ()


def family(*, viewer: Viewer, children: Sequence[Person], answers: Answers) -> list[Child]:
    """The children in the order given; the number of queries does not grow with them."""
    coming = coming_sessions(viewer=viewer, athletes=children)
    heard = answers.allowed_ids("availability") & {child.pk for child in children}
    last = (viewer.now + AHEAD).date()
    sports = other_sports_of(viewer=viewer, athlete_ids=heard, first=viewer.today, last=last)
    questions = unanswered_counts(asked=answers.found, athletes=children)
    return [
        Child(
            athlete=child,
            sessions=tuple(coming.get(child.pk, ())),
            open_questions=questions[child.pk],
            views=tuple((view, answer) for view in VIEWS if (answer := answers.answer(child.pk, view)).may),
            may_say=answers.may(child.pk, "availability"),
            may_set_numbers=answers.may(child.pk, "record") and is_decided_by(viewer, answers, child.pk),
            sports=tuple(sports.get(child.pk, ())),
        )
        for child in children
    ]
