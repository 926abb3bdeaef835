"""A group's handover on one page, for its coach: points, words that worked, what does not suit; never health."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from uuid import UUID

from athletes.access import answers_for
from athletes.models import EventGroup, GroupMembership, Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from sessions.access import get_group_set
from sessions.core.progress.form_history import FeatureHistory, Words, form_history
from sessions.core.progress.unsuited import Note, is_unsuited
from sessions.models import Feature, Unsuited
from sessions.selectors.form_history import points_in_hand, told_about
from sessions.selectors.unsuited import notes_of, unsuited_of

MOST_WORDS = 3
WORKED = "held"


@dataclass(frozen=True)
class HandedAthlete:
    """One athlete: points in hand, the words after which a point was held, each with its point, newest first, and
    what does not suit."""

    athlete: Person
    points: tuple[Feature, ...]
    words: tuple[tuple[Feature, Words], ...]
    unsuited: tuple[Unsuited, ...]


@dataclass(frozen=True)
class HandOver:
    """The page: athletes by name, and how many of the group are not on it since nothing may be shown of them."""

    group: EventGroup
    athletes: tuple[HandedAthlete, ...]
    left_out: int


def hand_over(*, viewer: Viewer, group_id: UUID) -> HandOver:
    """The handover of a group that an adult coach has today; a fixed number of queries.

    Of an athlete whose form history this reader may not use nothing stands there.
    """
    viewer.must_be(Role.COACH)
    group = get_group_set(viewer, group_id)
    rows = GroupMembership.objects.filter(in_force(viewer.today), group=group).select_related("athlete")
    people = {row.athlete_id: row.athlete for row in rows.order_by("athlete__family_name", "athlete__given_name")}
    answers = answers_for(viewer=viewer, athletes=people.values(), purposes=("feedback",))
    ids = [one for one in people if answers.may(one, "feedback")]
    told = told_about(viewer=viewer, athlete_ids=ids)
    points = points_in_hand(viewer=viewer, athlete_ids=ids)
    unsuited = unsuited_of(viewer=viewer, athlete_ids=ids)
    features = {one.code: one for one in Feature.objects.filter(club=viewer.club_id)}
    return HandOver(
        group=group,
        athletes=tuple(
            HandedAthlete(
                people[one],
                points[one],
                words_that_worked(
                    form_history(seen=told[one].seen, said=told[one].said), features, notes_of(unsuited[one])
                ),
                unsuited[one],
            )
            for one in ids
        ),
        left_out=len(people) - len(ids),
    )


def words_that_worked(
    histories: Sequence[FeatureHistory], features: dict[str, Feature], unsuited: Collection[Note]
) -> tuple[tuple[Feature, Words], ...]:
    """The newest words that suit after which the point was held on the next stride that was judged, of at most three
    points."""
    found = []
    for history in histories:
        suiting = (one for one in history.words if not is_unsuited(unsuited, history.feature, one.said.words))
        worked = next((one for one in suiting if one.followed and one.followed.shown == WORKED), None)
        if worked is not None and history.feature in features:
            found.append((features[history.feature], worked))
    return tuple(found[:MOST_WORDS])
