"""What is asked of one person about an athlete, and what was answered: one question a purpose."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.db.models import Prefetch

from athletes.access import ASKED
from athletes.circumstances.facts import Circumstances, circumstances
from athletes.circumstances.relations import adult_coaches_of
from athletes.core import ages
from athletes.core.permissions import Answer, Code, decide
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import CoachAssignment, ConsentReminder, PermissionEvent, PermissionRecipient, Person, Wording
from athletes.models.accounts import Role
from athletes.models.permissions import Purpose
from athletes.viewer import Viewer, in_force
from teamtrack.common.row_security import rows_open

MOST_SHOWN = 50
REMINDED_FOR = timedelta(days=14)


@dataclass(frozen=True)
class Question:
    """One purpose: the question in its wording, this person's own answer, and who sees what it allows.

    `stands` is said to the athlete alone: what the decision makes of all answers (a guardian never sees another's).
    """

    purpose: str
    label: str
    wording: Wording
    own: PermissionEvent | None
    may_answer: Answer
    may_stop: Answer
    recipients: tuple[Person, ...]
    stands: Answer | None = None

    @property
    def is_allowed(self) -> bool:
        """This person's own answer is a yes."""
        return self.own is not None and self.own.answer == PermissionEvent.Answer.YES

    @property
    def is_open(self) -> bool:
        """Not yet answered by this person, who may."""
        return self.own is None and self.may_answer.may

    @property
    def chooses_recipients(self) -> bool:
        """The answer says which persons it is for."""
        return self.purpose == Purpose.SHARE


def permission_questions(*, asked: Circumstances, athlete: Person) -> list[Question]:
    """The questions to the viewer of `asked` about one of its athletes, in a fixed order and number of queries."""
    viewer = asked.viewer
    shown = [purpose for purpose in ASKED if _decided(asked, athlete, purpose, "answer").code != Code.NOT_ASKED]
    wordings = _wordings(viewer, athlete, shown)
    own = latest_answers(viewer=viewer, athlete=athlete)
    named = named_by_default(viewer=viewer, athlete=athlete)
    stands = _standings(viewer, athlete) if viewer.role == Role.ATHLETE else {}
    return [
        Question(
            purpose=purpose,
            label=str(purpose.label),
            wording=wordings[purpose],
            own=own.get(purpose),
            may_answer=_decided(asked, athlete, purpose, "answer"),
            may_stop=_decided(asked, athlete, purpose, "withdraw"),
            recipients=_recipients(own.get(purpose)) or named.get(purpose, ()),
            stands=stands.get(purpose),
        )
        for purpose in shown
        if purpose in wordings
    ]


def latest_answers(
    *, viewer: Viewer, athlete: Person, before: PermissionEvent | None = None
) -> dict[str, PermissionEvent]:
    """The viewer's own latest answer to each purpose, in the role of the request; `before` leaves it and later out."""
    capacity = PermissionEvent.Capacity(viewer.role)
    named = Prefetch("recipients", PermissionRecipient.objects.select_related("person").order_by("person__family_name"))
    events = PermissionEvent.objects.filter(
        athlete=athlete, giver=viewer.person_id, capacity=capacity, about_guardian=None
    )
    if before is not None:
        events = events.filter(at__lt=before.at)
    with rows_open(club_id=viewer.club_id):
        return {event.purpose: event for event in events.order_by("at", "id").prefetch_related(named)}


def answer_history(*, viewer: Viewer, athlete: Person) -> list[PermissionEvent]:
    """What the viewer has answered about this athlete in the role of the request, newest first; one query."""
    events = PermissionEvent.objects.filter(
        athlete=athlete, giver=viewer.person_id, capacity=PermissionEvent.Capacity(viewer.role)
    )
    with rows_open(club_id=viewer.club_id):
        return list(events.select_related("wording", "about_guardian").order_by("-at", "-id")[:MOST_SHOWN])


def is_reminded(*, viewer: Viewer) -> bool:
    """Whether the club has reminded the viewer in the last two weeks that questions wait; one query."""
    shown = ConsentReminder.objects.filter(giver=viewer.person_id, at__lte=viewer.now)
    return shown.filter(at__gt=viewer.now - REMINDED_FOR).exists()


def wording_in_force(*, viewer: Viewer, athlete: Person, purpose: str) -> Wording | None:
    """The wording in which this viewer is asked now."""
    return _wordings(viewer, athlete, [purpose]).get(purpose)


def named_by_default(*, viewer: Viewer, athlete: Person) -> dict[str, tuple[Person, ...]]:
    """Whom a yes names without being asked: coaches of the own groups for health, the family for the address."""
    coaches = Person.objects.filter(pk__in=adult_coaches_of(athlete_ids=[athlete.pk], day=viewer.today))
    family = Person.objects.filter(
        in_force(viewer.today, "guardian_of__"), guardian_of__athlete=athlete, guardian_of__authority="full"
    )
    people = {person.pk: person for person in family} | {athlete.pk: athlete}
    return {
        Purpose.HEALTH: tuple(coaches.order_by("family_name", "given_name")),
        Purpose.FEED: tuple(people.values()) if viewer.role == Role.ATHLETE else (athlete, viewer.person),
    }


def coaches_to_share_with(*, viewer: Viewer, athlete: Person) -> list[Person]:
    """Adult coaches of the club's other groups: whom a yes to `share` may name."""
    own = adult_coaches_of(athlete_ids=[athlete.pk], day=viewer.today)
    assigned = CoachAssignment.objects.filter(in_force(viewer.today), club=viewer.club_id).values("coach_id")
    rows = Person.objects.filter(club=viewer.club_id, pk__in=assigned).exclude(pk__in=own)
    return [person for person in rows.order_by("family_name", "given_name") if _is_adult(person, viewer)]


def _is_adult(person: Person, viewer: Viewer) -> bool:
    return person.birth_date is not None and not ages.is_minor(ages.age_on(person.birth_date, viewer.today))


def _decided(found: Circumstances, athlete: Person, purpose: str, act: str) -> Answer:
    return decide(found.facts(athlete.pk, purpose, act=act))


def _standings(viewer: Viewer, athlete: Person) -> dict[str, Answer]:
    """What the decision makes of all answers, for somebody who is named."""
    coaches = adult_coaches_of(athlete_ids=[athlete.pk], day=viewer.today)
    as_coach = circumstances(
        viewer=viewer, athletes=[athlete], purposes=[Purpose.HEALTH], acting_as=ActingRole.COACH, readers=coaches
    )
    return {Purpose.HEALTH: _decided(as_coach, athlete, Purpose.HEALTH, "use")}


def _recipients(event: PermissionEvent | None) -> tuple[Person, ...]:
    """Whom the own yes names."""
    if event is None or event.answer != PermissionEvent.Answer.YES:
        return ()
    return tuple(recipient.person for recipient in event.recipients.all())


def _wordings(viewer: Viewer, athlete: Person, purposes: Sequence[str]) -> dict[str, Wording]:
    """The newest wording of each purpose, at a child's level where a minor answers in person."""
    age = ages.age_on(athlete.birth_date, viewer.today) if athlete.birth_date else None
    as_child = viewer.role == Role.ATHLETE and ages.is_minor(age)
    rows = Wording.objects.filter(club=viewer.club_id, purpose__in=purposes, in_force_from__lte=viewer.now)
    found: dict[str, Wording] = {}
    for wording in rows.order_by("version"):
        if wording.child_level == as_child or wording.purpose not in found:
            found[wording.purpose] = wording
    return found


def unanswered_counts(*, asked: Circumstances, athletes: Sequence[Person]) -> dict[UUID, int]:
    """How many questions about each athlete wait for the first answer of the viewer of `asked`; one query."""
    viewer = asked.viewer
    mine = PermissionEvent.objects.filter(
        athlete__in=asked.athletes.keys(),
        giver=viewer.person_id,
        capacity=PermissionEvent.Capacity(viewer.role),
        about_guardian=None,
    )
    with rows_open(club_id=viewer.club_id):
        answered = set(mine.values_list("athlete_id", "purpose").distinct())
    return {
        athlete.pk: sum(
            _decided(asked, athlete, purpose, "answer").may and (athlete.pk, purpose) not in answered
            for purpose in ASKED
        )
        for athlete in athletes
    }
