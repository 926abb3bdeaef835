"""Takes a proposal over into the week's draft, whole or in part."""

from collections.abc import Collection, Mapping
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.viewer import Viewer
from sessions.access import get_proposal
from sessions.core.week_changes import Place, asked_of_plan, changes, keeping_easier, mixed, places_of_plan
from sessions.models import DraftStep, Proposal
from sessions.selectors.week_draft import demands_of, draft_places, easier_as_published
from sessions.services.draft_rules import DraftRules
from sessions.services.week_draft import Turn, take_turn, write_turn
from teamtrack.common import words
from teamtrack.common.errors import Refused


@transaction.atomic
def accept_proposal(
    *, viewer: Viewer, proposal_id: UUID, revision: int, chosen: Collection[UUID] | None = None
) -> DraftStep:
    """Take over the chosen demands (None: all) into the draft that is at `revision`.

    Raises Conflict, with what changed, where the draft has moved on; Refused where the proposal is not ready, a demand
    is not in it, nothing would change, or the mix of old and new breaks a rule.
    """
    proposal = get_proposal(viewer, proposal_id)
    week = proposal.week
    take_turn(viewer=viewer, week=week, revision=revision)
    if proposal.state != Proposal.State.READY or proposal.plan is None:
        raise Refused("NOT_READY", str(_("This proposal is not there to be taken over. Nothing was changed.")))
    asked = asked_of_plan(proposal.plan)
    wanted = _wanted(asked, chosen)
    demands = demands_of(week)
    still_there = {str(demand.pk) for demand in demands}
    before = draft_places(demands)
    proposed = keeping_easier(before, places_of_plan(proposal.plan), easier_as_published(week))
    after = mixed(before, proposed, wanted & still_there)
    _check(viewer, proposal, before, after)
    step = write_turn(Turn(viewer, week, DraftStep.What.ACCEPTED, before, after), revision=revision)
    rest = mixed(after, proposed, asked & still_there)
    proposal.state = Proposal.State.READY if _differ(viewer, after, rest) else Proposal.State.ACCEPTED
    proposal.based_on_revision = step.revision
    proposal.save(update_fields=["state", "based_on_revision"])
    return step


def _wanted(asked: set[str], chosen: Collection[UUID] | None) -> set[str]:
    wanted = asked if chosen is None else {str(demand) for demand in chosen}
    if not wanted or wanted - asked:
        wrong = _("Tick at least one move.") if not wanted else _("One of the moves is not in this proposal.")
        raise Refused("CHECK_FIELDS", str(words.CHECK_FIELDS), fields={"demands": [str(wrong)]})
    return wanted


def _check(viewer: Viewer, proposal: Proposal, before: Mapping[str, Place], after: Mapping[str, Place]) -> None:
    if not _differ(viewer, before, after):
        raise Refused("NOTHING_NEW", str(_("The week is like that already. Nothing was changed.")))
    DraftRules(viewer=viewer, week=proposal.week).refuse_new(before=before, after=after)


def _differ(viewer: Viewer, before: Mapping[str, Place], after: Mapping[str, Place]) -> bool:
    return bool(changes(before, after, ZoneInfo(viewer.club.timezone)))
