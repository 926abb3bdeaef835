"""Whom a change of one training session concerns: those who come, the guardians of minors, and who leads it."""

from athletes.models import Person
from athletes.viewer import Viewer
from sessions.models import Notice, SessionAthlete, TrainingSession
from sessions.selectors.availability import said_not_coming
from sessions.selectors.publication import Told, families_told


def told_of_session(*, viewer: Viewer, training_session: TrainingSession, kind: Notice.Kind) -> list[Told]:
    """One notice for each of them; whoever stays away by the plan, and whoever makes the change, is told nothing.

    That it is called off stands in the app alone for whoever had said not to come, and for their family.
    """
    coming = training_session.session_athletes.exclude(comes=SessionAthlete.Comes.AWAY)
    people = list(Person.objects.filter(pk__in=coming.values("athlete_id")).order_by("family_name", "given_name", "pk"))
    families = families_told(viewer, people)
    away = set()
    if kind == Notice.Kind.CALLED_OFF:
        away = said_not_coming(viewer=viewer, training_sessions=[training_session], athletes=people)
    told = []
    for athlete in people:
        off = (training_session.pk, athlete.pk) in away
        told.append(Told(athlete.pk, kind, in_app_only=off))
        told += [Told(one, kind, about=athlete.pk, in_app_only=off) for one in families.get(athlete.pk, ())]
    leading = training_session.session_coaches.filter(taken_off_at=None).exclude(coach=viewer.person_id)
    return told + [Told(coach, kind) for coach in leading.order_by("coach_id").values_list("coach_id", flat=True)]
