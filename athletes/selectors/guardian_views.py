"""What each guardian may see of the athlete who asks, and which of it the athlete's own word decides."""

from dataclasses import dataclass, replace
from uuid import UUID

from athletes.circumstances.facts import COPY, ERASURE, Circumstances, circumstances
from athletes.core import ages
from athletes.core.permissions import Answer, Facts, Guardian, decide
from athletes.core.permissions.facts import Act, Authority, Role, Stance
from athletes.models import Guardianship, PermissionEvent, Person, Withholding
from athletes.models.permissions import Purpose
from athletes.viewer import Viewer, in_force
from teamtrack.common.row_security import rows_open

SEEN = (
    Purpose.PLAN, Purpose.AVAILABILITY, Purpose.RECORD, Purpose.FEEDBACK, Purpose.HEALTH, Purpose.MESSAGE,
    Purpose.AUDIT,
)  # fmt: skip
"""What a guardian may view, in the order of the page; a copy and taking away follow."""

ABOUT_GUARDIAN = (*SEEN, Purpose.COPY, Purpose.ERASURE)
_ACTS = {COPY: (Act.EXPORT, "record"), ERASURE: (Act.ERASE, "feedback")}


@dataclass(frozen=True)
class View:
    """One thing a guardian may or may not see, or have done; `is_asked`: the athlete's word decides it."""

    what: Purpose
    label: str
    answer: Answer
    is_asked: bool
    own: PermissionEvent | None


@dataclass(frozen=True)
class GuardianViews:
    """A guardian with everything that the club shows or would do for them."""

    guardian: Person
    views: tuple[View, ...]


def guardian_views(*, viewer: Viewer) -> list[GuardianViews]:
    """Of each guardian of the viewer, an athlete: what the decision says, in a fixed number of queries."""
    day = viewer.today
    found = circumstances(viewer=viewer, athletes=[viewer.person], purposes=["record"])
    withheld = set(
        Withholding.objects.filter(in_force(day), athlete=viewer.person_id).values_list("guardian_id", flat=True)
    )
    answers = latest_about_guardians(viewer=viewer)
    links = Guardianship.objects.filter(in_force(day), athlete=viewer.person_id).select_related("guardian")
    return [
        GuardianViews(
            link.guardian,
            tuple(
                _view(found, link, what, answers.get((link.guardian_id, what)), link.guardian_id in withheld)
                for what in ABOUT_GUARDIAN
            ),
        )
        for link in links.order_by("guardian__family_name", "guardian__given_name")
    ]


def is_asked_about(*, viewer: Viewer, guardian_id: UUID, what: str) -> bool:
    """Whether the viewer's own word decides whether this guardian sees it, or has it done."""
    views = next((one.views for one in guardian_views(viewer=viewer) if one.guardian.pk == guardian_id), ())
    return any(view.is_asked for view in views if view.what == what)


def latest_about_guardians(
    *, viewer: Viewer, before: PermissionEvent | None = None
) -> dict[tuple[UUID, str], PermissionEvent]:
    """By guardian and what it is about: the viewer's latest answer; `before` leaves it and later ones out."""
    events = PermissionEvent.objects.filter(
        athlete=viewer.person_id, giver=viewer.person_id, about_guardian__isnull=False, at__lte=viewer.now
    )
    if before is not None:
        events = events.filter(at__lt=before.at)
    with rows_open(club_id=viewer.club_id):
        return {
            (event.about_guardian_id, event.purpose): event
            for event in events.order_by("at", "id")
            if event.about_guardian_id
        }


def _view(
    found: Circumstances, link: Guardianship, what: Purpose, own: PermissionEvent | None, is_withheld: bool
) -> View:
    facts = _facts(found, link, what, is_withheld)
    yes, no = (decide(replace(facts, athlete=stance)).may for stance in (Stance.YES, Stance.NO))
    return View(
        what=what,
        label=str(what.label),
        answer=decide(replace(facts, athlete=_stance(found, own, facts))),
        is_asked=yes != no,
        own=own,
    )


def _facts(found: Circumstances, link: Guardianship, what: Purpose, is_withheld: bool) -> Facts:
    act, purpose = _ACTS.get(what, (Act.VIEW_AS_GUARDIAN, what))
    return replace(
        found.facts(link.athlete_id, purpose, act=act),
        by=Role.GUARDIAN,
        guardians=(Guardian(authority=Authority(link.authority)),),
        withheld=is_withheld,
    )


def _stance(found: Circumstances, own: PermissionEvent | None, facts: Facts) -> Stance:
    """The athlete's latest word; a yes from under the digital age no more than assents from that birthday on."""
    if own is None:
        return Stance.NONE
    viewer = found.viewer
    if own.answer == PermissionEvent.Answer.YES and not facts.is_under_digital_age and _was_young(own, viewer, facts):
        return Stance.ASSENT
    return Stance(own.answer)


def _was_young(own: PermissionEvent, viewer: Viewer, facts: Facts) -> bool:
    born = viewer.person.birth_date
    return born is not None and ages.age_on(born, own.at.astimezone(viewer.now.tzinfo).date()) < max(facts.digital_age)
