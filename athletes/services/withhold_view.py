"""The welfare lead withholds a minor's data from one guardian, and gives the view back: never in the own case.

No reason is written: safeguarding concerns lie with the club's welfare lead on paper, never here.
"""

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

from django.db import transaction

from athletes.access import athletes_visible_to
from athletes.circumstances.facts import circumstances
from athletes.core.permissions import Answer, decide
from athletes.core.permissions.facts import Act as Deed
from athletes.models import Guardianship, Person, Withholding
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.selectors.requests import may_be_in_the_case
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound, Refused


@transaction.atomic
def withhold_view(*, viewer: Viewer, athlete_id: UUID, guardian_id: UUID) -> None:
    """Withhold everything of a minor from one guardian, from the next request on; twice changes nothing.

    Raises NotFound for a stranger's athlete or nobody's guardian, Refused in the own case and from 18 on.
    """
    athlete, decided = _decided(viewer, athlete_id, guardian_id)
    if not _standing(viewer, athlete, guardian_id).exists():
        Withholding.objects.create(
            club_id=viewer.club_id, athlete=athlete, guardian_id=guardian_id, set_by=viewer.person,
            first_day=viewer.today,
        )  # fmt: skip
        log_acts(viewer=viewer, acts=[Act("stop", "guardian_view", athlete.pk, ("withheld",), str(decided.code))])


@transaction.atomic
def give_view_back(*, viewer: Viewer, athlete_id: UUID, guardian_id: UUID) -> None:
    """Lift what is withheld from a guardian; raises as above, twice changes nothing."""
    athlete, decided = _decided(viewer, athlete_id, guardian_id)
    if _standing(viewer, athlete, guardian_id).update(last_day=viewer.today - timedelta(days=1)):
        log_acts(viewer=viewer, acts=[Act("opened", "guardian_view", athlete.pk, ("withheld",), str(decided.code))])


def _decided(viewer: Viewer, athlete_id: UUID, guardian_id: UUID) -> tuple[Person, Answer]:
    viewer.must_be(Role.WELFARE)
    athlete = next((one for one in athletes_visible_to(viewer) if one.pk == athlete_id), None)
    linked = Guardianship.objects.filter(in_force(viewer.today), athlete=athlete_id, guardian=guardian_id)
    if athlete is None or not linked.exists():
        raise NotFound()
    Person.objects.select_for_update(no_key=True).get(pk=athlete.pk)
    found = circumstances(viewer=viewer, athletes=[athlete], purposes=["record"])
    own_case = may_be_in_the_case(viewer=viewer, athlete=athlete)
    decided = decide(replace(found.facts(athlete.pk, "record", act=Deed.WITHHOLD), own_case=own_case))
    if not decided.may:
        raise Refused(decided.code, sentence_for(decided.code))
    return athlete, decided


def _standing(viewer: Viewer, athlete: Person, guardian_id: UUID):  # type: ignore[no-untyped-def]
    return Withholding.objects.filter(in_force(viewer.today), athlete=athlete, guardian=guardian_id)
