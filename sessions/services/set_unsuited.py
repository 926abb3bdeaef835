"""Notes that words, or a whole point, do not suit an athlete; or takes that note back."""

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.access import get_athlete_and_answers
from athletes.models import Person
from athletes.permission_words import sentence_for
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.core.progress.unsuited import same_words
from sessions.models import Feature, Unsuited
from sessions.selectors.form_history import told_about
from sessions.services.set_focus import in_hand_of, put_aside, take_in_hand
from teamtrack.common.errors import NotFound, Refused


@dataclass(frozen=True)
class UnsuitedNoted:
    """The point, and whether it was put aside because it does not suit."""

    feature: Feature
    was_in_hand: bool = False


@transaction.atomic
def note_unsuited(*, viewer: Viewer, athlete_id: UUID, feature_id: UUID, words: str = "") -> UnsuitedNoted:
    """Note that words once said to the athlete do not suit, or without words the point, which is then put aside.

    Raises NotFound for an athlete or feature that is not the viewer's, Refused where form history is not allowed or
    nobody said these words. Doing it twice changes nothing.
    """
    athlete, code, feature = _asked(viewer, athlete_id, feature_id)
    if words:
        words = _as_said(viewer, athlete_id, feature, words)
    Person.objects.select_for_update(no_key=True).get(pk=athlete_id)
    Unsuited.objects.get_or_create(
        athlete=athlete,
        feature=feature,
        words=words,
        defaults={"club_id": viewer.club_id, "since": viewer.today, "set_by_id": viewer.person_id},
    )
    held = in_hand_of(viewer, athlete_id).filter(feature=feature)
    was_in_hand = not words and held.exists()
    if was_in_hand:
        put_aside(viewer, held)
    log_acts(viewer=viewer, acts=[Act("set", "unsuited", athlete_id, ("feature", "words"), code)])
    return UnsuitedNoted(feature, was_in_hand)


@transaction.atomic
def remove_unsuited(
    *, viewer: Viewer, athlete_id: UUID, feature_id: UUID, words: str = "", back_in_hand: bool = False
) -> UnsuitedNoted:
    """Take the note back; `back_in_hand` takes the point in hand again that was put aside with it."""
    athlete, code, feature = _asked(viewer, athlete_id, feature_id)
    Person.objects.select_for_update(no_key=True).get(pk=athlete_id)
    Unsuited.objects.filter(athlete=athlete, feature=feature, words=words).delete()
    if back_in_hand:
        take_in_hand(viewer, athlete, feature)
    log_acts(viewer=viewer, acts=[Act("removed", "unsuited", athlete_id, ("feature", "words"), code)])
    return UnsuitedNoted(feature)


def _asked(viewer: Viewer, athlete_id: UUID, feature_id: UUID) -> tuple[Person, str, Feature]:
    athlete, answers = get_athlete_and_answers(viewer, athlete_id, ("record", "feedback"))
    decided = answers.answer(athlete_id, "feedback")
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    feature = Feature.objects.filter(pk=feature_id, club=viewer.club_id).first()
    if feature is None:
        raise NotFound()
    return athlete, str(decided.code), feature


def _as_said(viewer: Viewer, athlete_id: UUID, feature: Feature, words: str) -> str:
    """The words as they were said last: a note hangs on words that somebody used, whatever their capitals."""
    told = told_about(viewer=viewer, athlete_ids=[athlete_id])[athlete_id]
    alike = [one for one in told.said if one.feature == feature.code and same_words(one.words) == same_words(words)]
    if not alike:
        raise Refused("NOT_SAID", str(_("These words no longer stand in the history. Nothing was changed.")))
    return max(alike, key=lambda one: one.place).words
