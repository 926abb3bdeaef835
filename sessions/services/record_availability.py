"""Records what is possible for an athlete at a training session: runs, modified, not coming; never a reason."""

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.access import get_athlete_and_answers
from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_training_session
from sessions.models import Availability, Notice, TrainingSession
from sessions.selectors.availability import latest_availability
from teamtrack.common import words
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.row_security import rows_open

State = Availability.State


@dataclass(frozen=True)
class Said:
    """The word that is kept now, and the one that held before."""

    word: Availability
    before: Availability | None


@transaction.atomic
def record_availability(
    *, viewer: Viewer, athlete_id: UUID, training_session_id: UUID, state: str, option: str = ""
) -> Said:
    """Keep one word about one training session; its coaches are told of "not coming".

    `option` says what is possible and goes with `modified` alone. The very same word said again is the one that is
    there. Raises NotFound where athlete or session is not the viewer's, Refused for a session that is over or called
    off.
    """
    training_session = get_training_session(viewer, training_session_id)
    athlete, answers = get_athlete_and_answers(viewer, athlete_id, ["availability"])
    if not training_session.session_athletes.filter(athlete=athlete).exists():
        raise NotFound()
    _check(viewer, training_session, State(state), option)
    before = _word(training_session, athlete_id)
    said = (training_session.pk, state, option, viewer.person_id, viewer.role)
    if before and said == (before.training_session_id, before.state, before.option, before.said_by_id, before.said_as):
        return Said(before, _word(training_session, athlete_id, but=before.pk))
    word = Availability.objects.create(
        club_id=viewer.club_id,
        athlete=athlete,
        training_session=training_session,
        starts_at=training_session.starts_at,
        ends_at=training_session.ends_at,
        state=state,
        option=option,
        said_by=viewer.person,
        said_as=viewer.role,
        said_at=viewer.now,
    )
    _tell_coaches(viewer, athlete, training_session, is_away=state == State.NOT_TODAY)
    code = answers.answer(athlete_id, "availability").code
    log_acts(viewer=viewer, acts=[Act("record", "availability", athlete_id, ("state", "option"), code)])
    return Said(word, before)


def _word(training_session: TrainingSession, athlete_id: UUID, *, but: UUID | None = None) -> Availability | None:
    """The last word about one athlete and session, or the last before the word `but`."""
    left_out = [but] if but else []
    found = latest_availability(training_sessions=[training_session], athlete_ids=[athlete_id], but=left_out)
    return found.get((training_session.pk, athlete_id))


def _check(viewer: Viewer, training_session: TrainingSession, state: State, option: str) -> None:
    if training_session.is_called_off:
        raise Refused("CALLED_OFF", str(_("This session is called off. Nothing was changed.")))
    if training_session.ends_at <= viewer.now:
        raise Refused("TOO_LATE", str(_("This session is over. Nothing was changed.")))
    if (state == State.MODIFIED) != bool(option):
        wrong = _("Say what is possible.") if state == State.MODIFIED else _("This goes with “modified” alone.")
        raise Refused("CHECK_FIELDS", str(words.CHECK_FIELDS), fields={"option": [str(wrong)]})


def _tell_coaches(viewer: Viewer, athlete: Person, training_session: TrainingSession, *, is_away: bool) -> None:
    """A notice for each coach of the session without an unread one; taken back where the athlete comes after all."""
    told = Notice.objects.filter(
        kind=Notice.Kind.NOT_COMING, about=athlete, training_session=training_session, seen_at=None
    )
    coaches = training_session.session_coaches.filter(taken_off_at=None).exclude(coach=viewer.person_id)
    with rows_open(people=[athlete.pk]):
        if not is_away:
            told.delete()
            return
        Notice.objects.bulk_create(
            Notice(
                club_id=viewer.club_id,
                to_id=coach_id,
                kind=Notice.Kind.NOT_COMING,
                about=athlete,
                training_session=training_session,
                made_at=viewer.now,
            )
            for coach_id in coaches.exclude(coach__in=told.values("to")).values_list("coach_id", flat=True)
        )
