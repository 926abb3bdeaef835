"""Sets which features an athlete works on: taken in hand or put aside, with its line in the access log."""

from datetime import timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from athletes.access import get_athlete_and_answers
from athletes.models import Person
from athletes.permission_words import sentence_for
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Feature, Focus, Unsuited
from teamtrack.common.errors import NotFound, Refused

AT_ONE_TIME = 2
"""One or two features of form at a time (common practice, no source)."""


@transaction.atomic
def set_focus(*, viewer: Viewer, athlete_id: UUID, feature_id: UUID, is_in_hand: bool) -> Feature:
    """Take a feature in hand from today, or put it aside; a third one puts the longest worked on aside.

    Raises NotFound for an athlete or feature that is not the viewer's, Refused where form history is not allowed or
    the feature is retired or does not suit. Doing it twice changes nothing.
    """
    athlete, answers = get_athlete_and_answers(viewer, athlete_id, ("record", "feedback"))
    decided = answers.answer(athlete_id, "feedback")
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    feature = Feature.objects.filter(pk=feature_id, club=viewer.club_id).first()
    if feature is None:
        raise NotFound()
    Person.objects.select_for_update(no_key=True).get(pk=athlete_id)
    if is_in_hand:
        take_in_hand(viewer, athlete, feature)
    else:
        put_aside(viewer, in_hand_of(viewer, athlete_id).filter(feature=feature))
    log_acts(viewer=viewer, acts=[Act("set", "focus", athlete_id, ("feature", "since", "until"), str(decided.code))])
    return feature


def in_hand_of(viewer: Viewer, athlete_id: UUID) -> QuerySet[Focus]:
    """What the athlete works on now, the longest worked on first."""
    rows = Focus.objects.filter(athlete=athlete_id, since__lte=viewer.today)
    return rows.exclude(until__lt=viewer.today).order_by("since", "id")


def take_in_hand(viewer: Viewer, athlete: Person, feature: Feature) -> None:
    """From today, inside a transaction that holds the athlete's row."""
    in_hand = in_hand_of(viewer, athlete.pk)
    if feature.retired_on is not None and feature.retired_on <= viewer.today:
        raise Refused("RETIRED", str(_("This point is no longer used. Choose another; nothing was changed.")))
    if Unsuited.objects.filter(athlete=athlete, feature=feature, words="").exists():
        raise Refused("UNSUITED", str(_("This point does not suit. Take that note back first; nothing was changed.")))
    if in_hand.filter(feature=feature).exists():
        return
    held = list(in_hand)
    put_aside(viewer, Focus.objects.filter(pk__in=[one.pk for one in held[: len(held) - AT_ONE_TIME + 1]]))
    Focus.objects.create(
        club_id=viewer.club_id, athlete=athlete, feature=feature, since=viewer.today, set_by_id=viewer.person_id
    )


def put_aside(viewer: Viewer, focuses: QuerySet[Focus]) -> None:
    """It ends yesterday; what was begun today never was."""
    focuses.filter(since=viewer.today).delete()
    focuses.filter(since__lt=viewer.today).update(until=viewer.today - timedelta(days=1))
