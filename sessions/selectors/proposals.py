"""What the planner works on, proposals and rehearsals: how far one is, and whether its worker was lost."""

from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from sessions.models import Proposal, Rehearsal, WeekPlan
from teamtrack.common.clock import utc_now
from teamtrack.common.composed import Composed, Given
from teamtrack.common.heartbeat import is_alive
from teamtrack.common.jobs import MOST_ATTEMPTS
from teamtrack.common.models import Job

OPEN = (Proposal.State.WAITING, Proposal.State.RUNNING)
QUEUE = "solve"
_LATEST = Composed(lambda: Proposal.objects.filter(week=Given("week", WeekPlan._meta.pk)).defer("problem")[:1])


class Trouble(StrEnum):
    """Why work on a proposal does not go on just now."""

    NO_WORKER = "no_worker"
    WORKER_LOST = "worker_lost"
    GIVEN_UP = "given_up"


@dataclass(frozen=True)
class Standing:
    """A proposal that is worked on, as a page shows it: seconds so far, cost of the best plan and what is proved."""

    proposal: Proposal
    trouble: Trouble | None = None
    attempt: int = 1
    most_attempts: int = MOST_ATTEMPTS

    @property
    def is_open(self) -> bool:
        return self.proposal.state in OPEN and self.trouble is not Trouble.GIVEN_UP

    @property
    def seconds(self) -> int:
        return int(self.proposal.progress.get("seconds") or 0)


def latest_proposal(*, week: WeekPlan) -> Proposal | None:
    """The one asked for last; its problem is long and read only where it is needed."""
    return _LATEST.first(week=week.pk)


def standing_of(proposal: Proposal) -> Standing:
    """How the work on a proposal stands; one query at most."""
    if proposal.state not in OPEN:
        return Standing(proposal)
    job = job_of(proposal.pk)
    return Standing(proposal, trouble_of(job), job.attempts if job else 1)


def has_worker_left(work: Proposal | Rehearsal) -> bool:
    """Whether nobody will ever finish it: its job was given up."""
    return work.state in OPEN and trouble_of(job_of(work.pk)) is Trouble.GIVEN_UP


def job_of(target_id: UUID) -> Job | None:
    return Job.objects.filter(target_id=target_id).order_by("-made_at").first()


def trouble_of(job: Job | None) -> Trouble | None:
    """What keeps open work with this job from going on."""
    if job is None or job.state in (Job.State.FAILED, Job.State.DONE):
        return Trouble.GIVEN_UP
    if job.state == Job.State.RUNNING and job.lease_until is not None and job.lease_until < utc_now():
        return Trouble.WORKER_LOST
    return Trouble.NO_WORKER if job.state == Job.State.WAITING and not is_alive(QUEUE) else None
