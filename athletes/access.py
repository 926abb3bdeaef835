"""The only door from a viewer to rows about people: the club's scope, then the one decision."""

from collections.abc import Collection
from dataclasses import dataclass, field
from uuid import UUID

from athletes.circumstances.facts import Circumstances, circumstances
from athletes.circumstances.relations import candidates_of
from athletes.core.permissions import Answer, decide
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Guardianship, Person
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound

ASKED = (Purpose.RECORD, Purpose.HEALTH, Purpose.SHARE, Purpose.FEED)
"""The purposes about which somebody may be asked; `record` only where the United States rule bites."""


@dataclass(frozen=True)
class Answers:
    """The decision's answers for some athletes, worked out anew for this request, each once."""

    found: Circumstances
    known: dict[tuple[UUID, str], Answer] = field(default_factory=dict, compare=False, repr=False)

    def answer(self, athlete_id: UUID, purpose: str) -> Answer:
        """May this viewer use `purpose` of this athlete? A guardian's reading is the guardian's view."""
        place = (athlete_id, purpose)
        if place not in self.known:
            self.known[place] = self._decided(athlete_id, purpose)
        return self.known[place]

    def _decided(self, athlete_id: UUID, purpose: str) -> Answer:
        is_guardian = self.found.roles[athlete_id] is ActingRole.GUARDIAN
        act = "view_as_guardian" if is_guardian and purpose != "feed" else "use"
        return decide(self.found.facts(athlete_id, purpose, act=act))

    def answer_to(self, athlete_id: UUID, purpose: str, *, act: str) -> Answer:
        """May this viewer do `act` (answer, withdraw) about `purpose` of this athlete?"""
        return decide(self.found.facts(athlete_id, purpose, act=act))

    def may(self, athlete_id: UUID, purpose: str) -> bool:
        return athlete_id in self.found.athletes and self.answer(athlete_id, purpose).may

    def is_asked_about(self, athlete_id: UUID) -> bool:
        """Whether questions about this athlete are shown to the viewer."""
        return self.answer_to(athlete_id, "health", act="withdraw").may or self.may(athlete_id, "plan")

    def allowed_ids(self, purpose: str) -> set[UUID]:
        return {athlete_id for athlete_id in self.found.athletes if self.may(athlete_id, purpose)}


def answers_for(
    *,
    viewer: Viewer,
    athletes: Collection[Person],
    purposes: Collection[str],
    acting_as: ActingRole | None = None,
    readers: Collection[UUID] | None = None,
) -> Answers:
    """Ask the decision for people of the viewer's club; whoever is of another club is not there at all.

    `acting_as` and `readers` as in `circumstances`: for a training session's own list of coaches.
    """
    own = [athlete for athlete in athletes if athlete.club_id == viewer.club_id]
    return Answers(circumstances(viewer=viewer, athletes=own, purposes=purposes, acting_as=acting_as, readers=readers))


def athletes_visible_to(viewer: Viewer, purpose: str = "record") -> list[Person]:
    """The athletes of whom this viewer may use `purpose`, by name."""
    return athletes_and_answers(viewer, (purpose,))[0]


def athletes_and_answers(viewer: Viewer, purposes: Collection[str]) -> tuple[list[Person], Answers]:
    """The athletes of whom this viewer may use the first purpose, by name, with the answers for all of them."""
    answers = answers_for(viewer=viewer, athletes=_candidates_by_name(viewer), purposes=purposes)
    allowed = answers.allowed_ids(next(iter(purposes)))
    return [person for person in answers.found.athletes.values() if person.pk in allowed], answers


def _candidates_by_name(viewer: Viewer) -> list[Person]:
    rows = Person.objects.filter(candidates_of(viewer), club=viewer.club_id).distinct()
    return list(rows.order_by("family_name", "given_name", "id"))


def get_athlete(viewer: Viewer, athlete_id: UUID, purpose: str = "record") -> Person:
    """One athlete of whom this viewer may use `purpose`; absent and not yours are the same."""
    return get_athlete_and_answers(viewer, athlete_id, (purpose,))[0]


def get_athlete_and_answers(viewer: Viewer, athlete_id: UUID, purposes: Collection[str]) -> tuple[Person, Answers]:
    """One athlete with the answers for several purposes; not found where the first purpose is not allowed."""
    rows = Person.objects.filter(candidates_of(viewer), club=viewer.club_id, pk=athlete_id).distinct()
    athlete = rows.first()
    if athlete is None:
        raise NotFound()
    answers = answers_for(viewer=viewer, athletes=[athlete], purposes=purposes)
    if not answers.may(athlete_id, next(iter(purposes))):
        raise NotFound()
    return athlete, answers


def get_person_to_correct(viewer: Viewer, person_id: UUID) -> Person:
    """Somebody whose record an admin puts right: an athlete of whom the decision lets them know, or one's guardian."""
    if viewer.role != Role.ADMIN:
        raise NotFound()
    links = Guardianship.objects.filter(in_force(viewer.today), guardian=person_id, club=viewer.club_id)
    children = [link.athlete for link in links.select_related("athlete")]
    own = Person.objects.filter(candidates_of(viewer), club=viewer.club_id, pk=person_id)
    asked = [*own.distinct(), *children]
    answers = answers_for(viewer=viewer, athletes=asked, purposes=(Purpose.RECORD,))
    if not any(answers.may(one.pk, Purpose.RECORD) for one in asked):
        raise NotFound()
    return Person.objects.get(pk=person_id, club=viewer.club_id)


def get_athlete_asked_about(viewer: Viewer, athlete_id: UUID) -> tuple[Person, Answers]:
    """One athlete about whom the viewer answers questions: oneself, or a child whose guardian may decide or may see
    the plan; a withheld view takes nobody's right to stop something."""
    rows = Person.objects.filter(candidates_of(viewer), club=viewer.club_id, pk=athlete_id)
    athlete = rows.first() if viewer.role in (Role.ATHLETE, Role.GUARDIAN) else None
    if athlete is None:
        raise NotFound()
    answers = answers_for(viewer=viewer, athletes=[athlete], purposes=ASKED)
    if not answers.is_asked_about(athlete_id):
        raise NotFound()
    return athlete, answers


def get_athlete_to_copy(viewer: Viewer, athlete_id: UUID, purposes: Collection[str] = ()) -> tuple[Person, Answers]:
    """One athlete whose copy the viewer may take, or may be told why not: also an adult who said yes to this guardian's
    copy and to nothing else. With the answers for the copy and for `purposes`."""
    rows = Person.objects.filter(candidates_of(viewer), club=viewer.club_id, pk=athlete_id)
    athlete = rows.first() if viewer.role in (Role.ATHLETE, Role.GUARDIAN) else None
    if athlete is None:
        raise NotFound()
    answers = answers_for(viewer=viewer, athletes=[athlete], purposes={*ASKED, Purpose.COPY, *purposes})
    if not answers.is_asked_about(athlete_id) and not answers.answer_to(athlete_id, "record", act="export").may:
        raise NotFound()
    return athlete, answers


def athletes_asked_about(viewer: Viewer) -> tuple[list[Person], Answers]:
    """The athletes about whom the viewer answers questions, by name, with the answers for what is asked."""
    people = _candidates_by_name(viewer) if viewer.role in (Role.ATHLETE, Role.GUARDIAN) else []
    answers = answers_for(viewer=viewer, athletes=people, purposes=ASKED)
    return [person for person in people if answers.is_asked_about(person.pk)], answers


def known_to(viewer: Viewer, people: Collection[Person]) -> list[Person]:
    """Those of these people of whom the viewer may know, in their order: whoever is or was an athlete by the decision,
    everybody else of the club for its admin."""
    ids = [person.pk for person in people if person.club_id == viewer.club_id]
    athletes = list(Person.objects.filter(candidates_of(viewer), pk__in=ids).distinct())
    allowed = answers_for(viewer=viewer, athletes=athletes, purposes=("record",)).allowed_ids("record")
    if viewer.role == Role.ADMIN:
        allowed |= set(ids) - {athlete.pk for athlete in athletes}
    return [person for person in people if person.pk in allowed]
