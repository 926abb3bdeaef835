"""Who still has to answer what, and whose one signature opens most: found by asking the decision what it would say."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from athletes.access import ASKED, athletes_and_answers
from athletes.circumstances.facts import Circumstances, circumstances
from athletes.core import ages
from athletes.core.asking import may_be_asked
from athletes.core.permissions import decide
from athletes.core.permissions.facts import OPTIONAL_PURPOSES, Act, Authority, Role, Stance
from athletes.core.permissions.facts import Purpose as CorePurpose
from athletes.core.standing import StoredAnswer
from athletes.models import ConsentReminder, Guardianship, PermissionEvent, Person
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open

NEWEST = 10**6
READER = {"health": Role.COACH, "share": Role.COACH_OTHER, "feed": Role.ATHLETE, "record": Role.COACH}
"""For whom a purpose is tried: whoever would read by it."""


@dataclass(frozen=True)
class Missing:
    """One question that waits for one person: `opens` alone, or only together with another's answer.

    `to_see` is an answer given by link that an admin has not yet seen on paper.
    """

    athlete: Person
    purpose: str
    opens: bool
    to_see: bool


@dataclass
class Signer:
    """Somebody who signs: a guardian for children, or an athlete; with what waits for that person."""

    person: Person
    missing: list[Missing] = field(default_factory=list)
    reminded: int = 0
    reminded_at: datetime | None = None

    @property
    def opens(self) -> int:
        """How many questions one signature closes."""
        return sum(one.opens for one in self.missing)

    @property
    def is_seen_in_one_tap(self) -> bool:
        """Everything was answered by link, so that seeing the signed form is all that is missing."""
        return all(one.to_see for one in self.missing)

    @property
    def children(self) -> list[Person]:
        return list({one.athlete.pk: one.athlete for one in self.missing}.values())


def signers(viewer: Viewer) -> list[Signer]:
    """Everybody who still has something to answer, whoever opens most with one signature first."""
    athletes, _answers = athletes_and_answers(viewer, ("record",))
    found = circumstances(viewer=viewer, athletes=athletes, purposes=ASKED, acting_as=Role.COACH)
    people = _people(viewer, athletes)
    waiting: dict[UUID, Signer] = {}
    for athlete in athletes:
        for giver_id, capacity in _who_may_sign(found, athlete):
            signer = waiting.setdefault(giver_id, Signer(people[giver_id]))
            signer.missing += _missing(found, athlete, giver_id, capacity)
    for giver_id, number, at in ConsentReminder.objects.filter(giver__in=waiting.keys()).values_list(
        "giver_id", "number", "at"
    ):
        if number > waiting[giver_id].reminded:
            waiting[giver_id].reminded, waiting[giver_id].reminded_at = number, at
    rows = [signer for signer in waiting.values() if signer.missing]
    return sorted(rows, key=lambda one: (-one.opens, -len(one.missing), one.person.family_name, one.person.given_name))


def signer_of(viewer: Viewer, person_id: UUID) -> Signer:
    """One of them; not found where nothing waits for that person."""
    found = next((one for one in signers(viewer) if one.person.pk == person_id), None)
    if found is None:
        raise NotFound()
    return found


def own_signer(*, viewer: Viewer, person: Person) -> Signer:
    """What waits for one person of the viewer's club, as oneself and as guardian; fixed queries."""
    about = Q(pk=person.pk) | (Q(guarded_by__guardian=person) & in_force(viewer.today, "guarded_by__"))
    rows = Person.objects.filter(about, in_force(viewer.today, "memberships__"), club=viewer.club_id)
    athletes = list(rows.distinct().order_by("family_name", "given_name", "pk"))
    found = circumstances(viewer=viewer, athletes=athletes, purposes=ASKED, acting_as=Role.COACH)
    signer = Signer(person)
    for athlete in athletes:
        for giver_id, capacity in _who_may_sign(found, athlete):
            if giver_id == person.pk:
                signer.missing += _missing(found, athlete, giver_id, capacity)
    return signer


def purposes_open(*, viewer: Viewer, athlete: Person) -> frozenset[str]:
    """What somebody who is named may use today of what rests on answers."""
    found = circumstances(viewer=viewer, athletes=[athlete], purposes=ASKED, acting_as=Role.COACH)
    return frozenset(str(purpose) for purpose in ASKED if _may(found, athlete, str(purpose)))


def blocked_purposes(rows: list[Signer]) -> int:
    """How many questions about athletes wait for somebody."""
    return len({(one.athlete.pk, one.purpose) for signer in rows for one in signer.missing})


def _people(viewer: Viewer, athletes: list[Person]) -> dict[UUID, Person]:
    links = Guardianship.objects.filter(in_force(viewer.today), athlete__in=athletes).select_related("guardian")
    return {one.pk: one for one in athletes} | {link.guardian_id: link.guardian for link in links}


def _who_may_sign(found: Circumstances, athlete: Person) -> Iterator[tuple[UUID, str]]:
    """Guardians who may decide, of a minor; the athlete from the digital age on."""
    facts = found.facts(athlete.pk, "health")
    if not facts.is_under_digital_age:
        yield athlete.pk, PermissionEvent.Capacity.ATHLETE
    if ages.is_minor(facts.age):
        for guardian_id, authority in found.guardians[athlete.pk].items():
            if authority is Authority.FULL:
                yield guardian_id, PermissionEvent.Capacity.GUARDIAN


def _missing(found: Circumstances, athlete: Person, giver_id: UUID, capacity: str) -> list[Missing]:
    return [
        one for purpose in ASKED if (one := _missing_one(found, athlete, giver_id, capacity, str(purpose))) is not None
    ]


def _missing_one(found: Circumstances, athlete: Person, giver_id: UUID, capacity: str, purpose: str) -> Missing | None:
    if purpose == "record" and (capacity != PermissionEvent.Capacity.GUARDIAN or not _us_rule(found, athlete)):
        return None
    if _may(found, athlete, purpose):
        return None
    last = found.answers.get((athlete.pk, purpose), {}).get((giver_id, capacity))
    to_see = last is not None and last.is_yes and last.evidence < 2
    if not to_see and last is not None and not _asked_anew(found, purpose, last):
        return None
    alone = _with(found, athlete, purpose, (giver_id, capacity))
    if _may(alone, athlete, purpose):
        return Missing(athlete, purpose, opens=True, to_see=to_see)
    others = found
    for other in _who_may_sign(found, athlete):
        if other != (giver_id, capacity):
            others = _with(others, athlete, purpose, other, over_a_no=False)
    if _may(others, athlete, purpose):
        return None
    everybody = _with(others, athlete, purpose, (giver_id, capacity))
    return Missing(athlete, purpose, opens=False, to_see=to_see) if _may(everybody, athlete, purpose) else None


def _us_rule(found: Circumstances, athlete: Person) -> bool:
    return found.facts(athlete.pk, "record").us_rule_bites


def _asked_anew(found: Circumstances, purpose: str, last: StoredAnswer) -> bool:
    ran_out = last.until is not None and last.until <= found.viewer.now
    is_old = last.wording_version < found.material_versions.get(purpose, 0)
    said = "yes" if last.is_yes else "no"
    return may_be_asked(answer=said, day=last.day, today=found.viewer.today, is_out_of_date=ran_out or is_old)


def _may(found: Circumstances, athlete: Person, purpose: str) -> bool:
    """Whether a named reader may use the purpose; what a restriction or a missing name stops no signature opens."""
    facts = replace(
        found.facts(athlete.pk, purpose, act=Act.USE), by=READER[purpose], named_recipient=True, restricted=False,
        notice_shown=True,
    )  # fmt: skip
    return decide(facts).may if CorePurpose(purpose) in OPTIONAL_PURPOSES or purpose == "record" else True


def _with(
    found: Circumstances, athlete: Person, purpose: str, giver: tuple[UUID, str], *, over_a_no: bool = True
) -> Circumstances:
    """The same facts, as if this person signed a yes today; without `over_a_no` a no in force stays."""
    stored = found.answers.get((athlete.pk, purpose), {})
    last = stored.get(giver)
    if not over_a_no and last is not None and (last.is_yes or not _asked_anew(found, purpose, last)):
        return found
    yes = StoredAnswer(Stance.YES, found.viewer.today, 2, True, NEWEST)
    tried = {**found.answers, (athlete.pk, purpose): {**stored, giver: yes}}
    return replace(found, answers=tried, standings={})


def answers_by_link(*, viewer: Viewer, giver: Person) -> list[PermissionEvent]:
    """A person's latest answers, where they came by link and no admin has seen them signed; one query."""
    events = PermissionEvent.objects.filter(club=viewer.club_id, giver=giver, about_guardian=None)
    with rows_open(club_id=viewer.club_id):
        latest = {(one.athlete_id, one.purpose, one.capacity): one for one in events.order_by("at", "id")}
    return [one for one in latest.values() if one.evidence < 2 and one.answer == PermissionEvent.Answer.YES]
