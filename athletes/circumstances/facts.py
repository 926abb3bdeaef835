"""Builds the facts of the permission decision from rows: for many athletes at once, with a fixed number of queries."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.circumstances.relations import roles_towards
from athletes.circumstances.statements import AnswerRow, Asked, Row, answer_rows, circumstance_rows, read_id
from athletes.core.permissions import Facts
from athletes.core.permissions import facts as fact
from athletes.core.permissions.use import NEEDS_OF_ROLE
from athletes.core.standing import Standing, StoredAnswer, digital_age_of
from athletes.models import PermissionEvent, Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer

_NOTHING: frozenset[fact.Purpose] = frozenset()
RESTRICTED, OBJECTED = "restricted", "objected"
COPY, ERASURE = "copy", "erasure"
_ABOUT_GUARDIAN = {fact.Act.EXPORT: COPY, fact.Act.ERASE: ERASURE}
"""What the athlete answered about this guardian, by act; a view is answered by its own purpose."""
_ON_VIEWS = {fact.Act.VIEW_AS_GUARDIAN, *_ABOUT_GUARDIAN}


@dataclass
class Circumstances:
    """What the rows say about some athletes, as one viewer needs it now."""

    viewer: Viewer
    athletes: dict[UUID, Person]
    roles: dict[UUID, fact.Role] = field(default_factory=dict)
    members: dict[UUID, bool] = field(default_factory=dict)
    guardians: dict[UUID, dict[UUID, fact.Authority]] = field(default_factory=lambda: defaultdict(dict))
    answers: dict[tuple[UUID, str], dict[tuple[UUID, str], StoredAnswer]] = field(
        default_factory=lambda: defaultdict(dict)
    )
    views: dict[tuple[UUID, str], StoredAnswer] = field(default_factory=dict)
    marks: set[tuple[str, UUID, str]] = field(default_factory=set)
    withheld: set[UUID] = field(default_factory=set)
    digital_ages: dict[str, tuple[int, bool]] = field(default_factory=dict)
    material_versions: dict[str, int] = field(default_factory=dict)
    standings: dict[tuple[UUID, str], dict[str, Any]] = field(default_factory=dict)
    by_home: dict[str, tuple[tuple[int, ...], bool]] = field(default_factory=dict)
    alike: dict[tuple[object, ...], Facts] = field(default_factory=dict)

    def facts(self, athlete_id: UUID, purpose: str, *, act: str = "use", **more: object) -> Facts:
        """The facts of one decision about one of the athletes; `more` are facts that only some acts read.

        A use that rests on membership alone reads neither age nor answers: whoever stands alike shares the facts.
        """
        state = self._state(athlete_id, purpose)
        if more or act != fact.Act.USE or purpose not in fact.MEMBERSHIP_PURPOSES or self.viewer.club.us_rule:
            return _facts(act, purpose, state, {**self._of_answers(athlete_id, purpose, act), **more})
        if (purpose, *state) not in self.alike:
            self.alike[purpose, *state] = _facts(act, purpose, state, {"us_under_13": False})
        return self.alike[purpose, *state]

    def _state(self, athlete_id: UUID, purpose: str) -> tuple[fact.Role, bool, bool, bool, bool, bool]:
        """What the rows say without any answer, in the order in which `_facts` takes it."""
        return (
            self.roles[athlete_id],
            athlete_id in self.members,
            (RESTRICTED, athlete_id, purpose) in self.marks,
            self.members.get(athlete_id, False),
            (OBJECTED, athlete_id, purpose) in self.marks,
            athlete_id in self.withheld,
        )

    def _of_answers(self, athlete_id: UUID, purpose: str, act: str) -> dict[str, Any]:
        """Worked out once for all purposes that rest on the same answers; a view rests on answers of its own."""
        asked = "record" if purpose in fact.MEMBERSHIP_PURPOSES else purpose
        place = (athlete_id, f"{act} {purpose}" if act in _ON_VIEWS else asked)
        if place not in self.standings:
            self.standings[place] = self._new_standing(athlete_id, purpose, asked, act)
        return self.standings[place]

    def _new_standing(self, athlete_id: UUID, purpose: str, asked: str, act: str) -> dict[str, Any]:
        person = self.athletes[athlete_id]
        digital, joint = self._digital_age(person.home_country)
        answers = self.answers.get((athlete_id, asked), {})
        own = answers.get((athlete_id, PermissionEvent.Capacity.ATHLETE))
        standing = Standing(
            purpose=fact.Purpose(asked),
            born=person.birth_date,
            today=self.viewer.today,
            now=self.viewer.now,
            digital_age=max(digital),
            athlete=self._about_viewer(athlete_id, purpose, act) if act in _ON_VIEWS else own,
            guardians=self._guardians_of(athlete_id, answers),
            last_material_version=self.material_versions.get(asked, 0),
        )
        return {
            "us_under_13": self.viewer.club.us_rule,
            "age": standing.age,
            "digital_age": digital,
            "athlete": standing.athlete_stance,
            "guardians": standing.guardian_stances,
            "evidence": standing.evidence,
            "named_recipient": standing.names_reader,
            "wording": standing.wording,
            "expired": standing.is_expired,
            "joint_rule": joint,
            "days_since_digital_age": standing.coming_of_age.days_since_digital_age,
            "turned_18_since_answer": standing.coming_of_age.turned_18_since_answer,
        }

    def _digital_age(self, home_country: str) -> tuple[tuple[int, ...], bool]:
        """The ages of the club's country and of the home, worked out once for each home."""
        if home_country not in self.by_home:
            here = self.viewer.club.country
            self.by_home[home_country] = digital_age_of(self.digital_ages, sorted({here, home_country or here}))
        return self.by_home[home_country]

    def _about_viewer(self, athlete_id: UUID, purpose: str, act: str) -> StoredAnswer | None:
        """The athlete's answer about what this viewer, a guardian, may see, copy or have taken away."""
        return self.views.get((athlete_id, _ABOUT_GUARDIAN.get(fact.Act(act), purpose)))

    def _guardians_of(
        self, athlete_id: UUID, answers: dict[tuple[UUID, str], StoredAnswer]
    ) -> list[tuple[fact.Authority, StoredAnswer | None]]:
        """In a fixed order, but a guardian who asks comes first; one who is no guardian of this athlete, unverified."""
        linked = sorted(
            self.guardians[athlete_id].items(), key=lambda pair: (pair[0] != self.viewer.person_id, pair[0])
        )
        found = [(authority, answers.get((who, PermissionEvent.Capacity.GUARDIAN))) for who, authority in linked]
        is_strange = self.viewer.role == Role.GUARDIAN and self.viewer.person_id not in self.guardians[athlete_id]
        return [(fact.Authority.UNVERIFIED, None), *found] if is_strange else found


def _facts(
    act: str, purpose: str, state: tuple[fact.Role, bool, bool, bool, bool, bool], more: Mapping[str, Any]
) -> Facts:
    role, is_member, is_restricted, is_shown, is_upheld, is_withheld = state
    return Facts(
        act=fact.Act(act),
        purpose=fact.Purpose(purpose),
        by=role,
        membership=fact.Membership.MEMBER if is_member else fact.Membership.LEFT,
        restricted=is_restricted,
        notice_shown=is_shown,
        objection=fact.Objection.UPHELD if is_upheld else fact.Objection.NONE,
        withheld=is_withheld,
        **more,
    )


def circumstances(
    *,
    viewer: Viewer,
    athletes: Collection[Person],
    purposes: Collection[str],
    acting_as: fact.Role | None = None,
    readers: Collection[UUID] | None = None,
) -> Circumstances:
    """Read what the decision needs about `athletes` for `purposes`; the number of queries does not grow with them.

    For a coach the answers are read of those alone towards whom the role needs one of the purposes that rest on them.

    `acting_as` is given where a training session's own list says in which role the viewer acts; `readers` where it is
    asked whether one of several people is named instead of the viewer.
    """
    found = Circumstances(viewer=viewer, athletes={athlete.pk: athlete for athlete in athletes})
    ids = list(found.athletes)
    if not ids:
        return found
    if acting_as is None:
        found.roles = roles_towards(viewer=viewer, athlete_ids=ids)
    else:
        found.roles = dict.fromkeys(ids, acting_as)
    resting = _resting_on_answers(viewer, purposes)
    is_coach = viewer.role in (Role.COACH, Role.HEAD_COACH)
    answering = [one for one in ids if resting & NEEDS_OF_ROLE.get(found.roles[one], _NOTHING)] if is_coach else ids
    resting = resting if answering else set()
    asked = Asked(viewer.club_id, viewer.person_id, viewer.now, ids, answering, sorted(resting))
    for row in circumstance_rows(asked, with_families=bool(resting) or not is_coach):
        _note(found, row)
    if resting:
        _note_answers(found, answer_rows(asked, readers if readers is not None else [viewer.person_id]))
    return found


def _resting_on_answers(viewer: Viewer, purposes: Collection[str]) -> set[str]:
    """The purposes for which the decision may need answers; a guardian's view may rest on the athlete's own."""
    asked = {"record" if purpose in fact.MEMBERSHIP_PURPOSES else purpose for purpose in purposes}
    if not viewer.club.us_rule:
        asked.discard("record")
    return asked | set(purposes) if viewer.role == Role.GUARDIAN else asked


def _note(found: Circumstances, row: Row) -> None:
    match row.what:
        case "digital_age":
            found.digital_ages[row.whose] = (row.number, row.said == "joint")
        case "wording":
            found.material_versions[row.whose] = row.number
        case "member":
            found.members[read_id(row.whose)] = row.number == 1
        case "guardian":
            found.guardians[read_id(row.whose)][read_id(row.detail)] = fact.Authority(row.said)
        case "withheld":
            found.withheld.add(read_id(row.whose))
        case mark:
            found.marks.add((mark, read_id(row.whose), row.said))


def _note_answers(found: Circumstances, rows: Iterable[AnswerRow]) -> None:
    """The latest answer of each giver, and the athletes' answers about what this viewer may see."""
    zone = ZoneInfo(found.viewer.club.timezone)
    for row in rows:
        stored = StoredAnswer(
            stance=fact.Stance(row.answer),
            day=row.at.astimezone(zone).date(),
            evidence=row.evidence,
            names_reader=row.names_reader,
            wording_version=row.wording_version,
            until=row.until,
        )
        if row.about_guardian_id:
            found.views[row.athlete_id, row.purpose] = stored
        else:
            found.answers[row.athlete_id, row.purpose][row.giver_id, row.capacity] = stored
