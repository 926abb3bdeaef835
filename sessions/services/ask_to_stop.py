"""An athlete asks to stop working on a point, or takes that back; the coaches are told and decide with the athlete."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.access import get_athlete_and_answers
from athletes.circumstances.relations import adult_coaches_of
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Feature, Focus, Notice
from sessions.services.set_focus import in_hand_of
from teamtrack.common.errors import Refused
from teamtrack.common.row_security import rows_open


@transaction.atomic
def ask_to_stop(*, viewer: Viewer, feature_id: UUID, is_asked: bool) -> Feature:
    """Keep, or take back, that the viewer would like to stop a point; the point stays in hand until a coach ends it.

    Raises Refused where form history is not allowed or the point is not in hand. Doing it twice changes nothing.
    """
    viewer.must_be(Role.ATHLETE)
    athlete, answers = get_athlete_and_answers(viewer, viewer.person_id, ("record", "feedback"))
    decided = answers.answer(athlete.pk, "feedback")
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    Person.objects.select_for_update(no_key=True).get(pk=athlete.pk)
    in_hand = in_hand_of(viewer, athlete.pk)
    focus = in_hand.filter(feature=feature_id).select_related("feature").first()
    if focus is None:
        raise Refused("NOT_IN_HAND", str(_("Nobody works with you on this point now. Nothing was changed.")))
    if is_asked == (focus.stop_asked_on is not None):
        return focus.feature
    Focus.objects.filter(pk=focus.pk).update(stop_asked_on=viewer.today if is_asked else None)
    _tell_coaches(viewer, athlete, is_asked=in_hand.filter(stop_asked_on__isnull=False).exists())
    verb = "ask" if is_asked else "take_back"
    log_acts(viewer=viewer, acts=[Act(verb, "focus", athlete.pk, ("stop_asked_on",), str(decided.code))])
    return focus.feature


def _tell_coaches(viewer: Viewer, athlete: Person, *, is_asked: bool) -> None:
    """A notice for each coach of the athlete's groups without an unread one; taken back with the last request."""
    told = Notice.objects.filter(kind=Notice.Kind.STOP_ASKED, about=athlete, seen_at=None)
    coaches = adult_coaches_of(athlete_ids=[athlete.pk], day=viewer.today) - {athlete.pk}
    with rows_open(people=[athlete.pk]):
        if not is_asked:
            told.delete()
            return
        Notice.objects.bulk_create(
            Notice(
                club_id=viewer.club_id,
                to_id=coach_id,
                kind=Notice.Kind.STOP_ASKED,
                about=athlete,
                made_at=viewer.now,
            )
            for coach_id in sorted(coaches - set(told.values_list("to_id", flat=True)))
        )
