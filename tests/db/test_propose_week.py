"""Asking the planner: one request solves once, in a real worker; stopping, failing and lost workers are said."""

import os
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection

from athletes.models import AccessLogEntry, StaffRole
from athletes.viewer import viewer_for
from sessions.core.planner.solve import solve_document
from sessions.models import GroupSettings, Proposal
from sessions.selectors.proposals import Trouble, standing_of
from sessions.services.accept_proposal import accept_proposal
from sessions.services.make_week import make_week
from sessions.services.propose_week import TASK, propose_week, stop_proposal
from sessions.services.solve_proposal import solve_proposal
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.heartbeat import beat
from teamtrack.common.jobs import MOST_ATTEMPTS, claim_job, sweep_jobs
from teamtrack.common.models import Job
from tests.planning import PlanScene, make_plan_scene, place
from tests.workers import celery_worker, in_threads

pytestmark = pytest.mark.django_db
committed = pytest.mark.django_db(transaction=True)
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def plan(db) -> PlanScene:
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    return made


def ask(plan: PlanScene) -> tuple[Proposal, Job]:
    proposal = propose_week(viewer=plan.viewer, monday=plan.monday)
    return proposal, Job.objects.get(target_id=proposal.pk)


def lose(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(lease_until=utc_now() - timedelta(seconds=1))


def fast(document, **options):
    """The planner, within two seconds: the small club needs a tenth of that."""
    return solve_document(document, **options | {"seconds": 20.0, "workers": 1})


def patient(document, **options):
    """The planner until it has its proof, however slow the machine."""
    return solve_document(document, **options | {"seconds": 60.0, "workers": 1})


# A real worker


@committed
def test_a_celery_worker_solves_what_the_page_asked_for(plan):
    with celery_worker(TASK):
        proposal, job = ask(plan)
        until = time.monotonic() + 120
        while Proposal.objects.get(pk=proposal.pk).state in ("waiting", "running") and time.monotonic() < until:
            time.sleep(0.1)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.failure) == ("ready", "")
    assert proposal.plan["status"] == "optimal"
    assert {row["demand"] for row in proposal.plan["placed"]} == {str(demand.pk) for demand in plan.week.demands.all()}
    assert Job.objects.get(pk=job.pk).state == "done"


@committed
def test_a_worker_that_was_killed_leaves_its_job_to_the_next(plan, tmp_path):
    """A process of its own claims the job and is killed with SIGKILL in the middle of the solving."""
    proposal, job = ask(plan)
    script = (
        "import sys, time\n"
        "from django.conf import settings\n"
        "settings.DATABASES['default']['NAME'] = sys.argv[1]\n"
        "import django; django.setup()\n"
        "from sessions.services.solve_proposal import solve_proposal\n"
        "def never(document, **options):\n    print('began', flush=True)\n    time.sleep(120)\n"
        "solve_proposal(job_id=sys.argv[2], solve=never)\n"
    )
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "tests.settings"}
    command = [sys.executable, "-c", script, str(connection.settings_dict["NAME"]), str(job.pk)]
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline() == "began\n"
        process.send_signal(signal.SIGKILL)
    assert solve_proposal(job_id=job.pk, solve=fast) is False
    proposal.refresh_from_db()
    assert (proposal.state, plan.week.revision) == ("running", 1)
    lose(job)
    assert standing_of(proposal).trouble is Trouble.WORKER_LOST
    woken = []
    sweep_jobs(wake=lambda task, job_id: woken.append((task, job_id)))
    assert woken == [(TASK, str(job.pk))]
    assert solve_proposal(job_id=woken[0][1], solve=fast) is True
    proposal.refresh_from_db()
    assert proposal.state == "ready"
    assert Job.objects.get(pk=job.pk).attempts == 2


def test_after_three_lost_workers_it_is_given_up_and_can_be_asked_again(plan):
    proposal, job = ask(plan)
    for _ in range(MOST_ATTEMPTS):
        assert claim_job(job.pk) is not None
        lose(job)
    sweep_jobs(wake=lambda task, job_id: pytest.fail("given up means nobody is woken"))
    assert standing_of(proposal).trouble is Trouble.GIVEN_UP
    assert not standing_of(proposal).is_open
    again, _job = ask(plan)
    assert again.pk != proposal.pk


def test_that_no_worker_lives_is_said(plan, settings, tmp_path):
    settings.DATA_DIR, settings.REDIS_URL = tmp_path, ""
    proposal, _job = ask(plan)
    assert standing_of(proposal).trouble is Trouble.NO_WORKER
    beat("solve")
    assert standing_of(proposal).trouble is None


# Once


def test_the_same_request_twice_is_one_proposal(plan):
    first, job = ask(plan)
    assert propose_week(viewer=plan.viewer, monday=plan.monday).pk == first.pk
    solve_proposal(job_id=job.pk, solve=patient)
    first.refresh_from_db()
    assert first.plan is not None and first.plan["status"] == "optimal"
    assert propose_week(viewer=plan.viewer, monday=plan.monday).pk == first.pk
    assert (Proposal.objects.count(), Job.objects.count()) == (1, 1)


@committed
def test_two_head_coaches_at_once_get_the_same_proposal(plan):
    viewer = plan.viewer
    results = in_threads(*[lambda: propose_week(viewer=viewer, monday=plan.monday).pk] * 4)
    assert len(set(results)) == 1
    assert Proposal.objects.count() == 1


@committed
def test_a_task_that_comes_twice_solves_once(plan):
    _proposal, job = ask(plan)
    calls = []

    def counted(document, **options):
        calls.append(document)
        return fast(document, **options)

    results = in_threads(*[lambda: solve_proposal(job_id=job.pk, solve=counted)] * 4)
    assert sorted(results) == [False, False, False, True]
    assert solve_proposal(job_id=job.pk, solve=counted) is False
    assert len(calls) == 1


def test_what_changed_since_makes_a_new_request(plan):
    first, job = ask(plan)
    solve_proposal(job_id=job.pk, solve=fast)
    GroupSettings.objects.create(club=plan.scene.club, group=plan.scene.group, policy={"rest_days_per_week": 3})
    second, _job = ask(plan)
    assert second.pk != first.pk


def test_a_draft_that_moved_on_makes_a_new_request_and_stops_the_old_one(plan):
    first, _job = ask(plan)
    claim_job(_job.pk)
    Proposal.objects.filter(pk=first.pk).update(state="running")
    plan.week.steps.all()
    type(plan.week).objects.filter(pk=plan.week.pk).update(revision=2)
    second, _new = ask(plan)
    first.refresh_from_db()
    assert (second.based_on_revision, first.stop_wanted) == (2, True)


# The work itself


def test_progress_is_written_and_the_wish_to_stop_is_heard(plan):
    proposal, job = ask(plan)
    heard = []

    def slow(document, *, on_progress, should_stop, **options):
        on_progress({"best": 400, "bound": 10, "seconds": 1.2})
        assert Proposal.objects.get(pk=proposal.pk).progress == {"best": 400, "bound": 10, "seconds": 1.2}
        heard.append(should_stop())
        stop_proposal(viewer=plan.viewer, proposal_id=proposal.pk)
        heard.append(should_stop())
        return fast(document, **options)

    assert solve_proposal(job_id=job.pk, solve=slow) is True
    proposal.refresh_from_db()
    assert heard == [False, True]
    assert (proposal.state, proposal.plan is not None) == ("ready", True)


def test_what_is_stopped_before_it_begins_never_begins(plan):
    proposal, job = ask(plan)
    stop_proposal(viewer=plan.viewer, proposal_id=proposal.pk)
    assert solve_proposal(job_id=job.pk, solve=lambda *a, **k: pytest.fail("it was stopped")) is True
    proposal.refresh_from_db()
    assert (proposal.state, Job.objects.get(pk=job.pk).state) == ("stopped", "done")


def test_a_plan_that_breaks_a_rule_is_never_shown(plan):
    """The solver's answer with the technique session an hour after the hard one."""
    proposal, job = ask(plan)

    def lying(document, **options):
        found = fast(document, **options)
        hard, technique = (str(plan.demand(kind).pk) for kind in ("hard", "technique"))
        rows = {row["demand"]: row for row in found["placed"]}
        rows[technique] |= {
            "start": plan.at(1, 20).isoformat(timespec="minutes"),
            "end": plan.at(1, 21).isoformat(timespec="minutes"),
        }
        assert rows[hard]["start"].startswith(plan.at(1, 18).date().isoformat())
        return found

    solve_proposal(job_id=job.pk, solve=lying)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.plan) == ("failed", None)
    assert "broke a rule" in proposal.failure
    with pytest.raises(Refused) as refused:
        accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1)
    assert refused.value.code == "NOT_READY"


def test_stopped_before_anything_better_was_found_the_week_stays_as_it_is(plan):
    """The planner, stopped at once, hands back a plan without any session: that is not offered in place of the week."""
    for kind, day in (("hard", 1), ("technique", 3), ("easy", 5)):
        place(plan.demand(kind), plan.at(day, 18), plan.scene.coach)
    proposal, job = ask(plan)

    def stopped_early(document, **options):
        found = fast(document, **options)
        rows = [{"demand": row["demand"], "because": [], "would_fit_if": []} for row in found["placed"]]
        return found | {"placed": [], "unplaced": rows, "objective": 60_000, "bound": 0, "status": "feasible"}

    solve_proposal(job_id=job.pk, solve=stopped_early)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.plan) == ("failed", None)
    assert "Nothing better than the week as it is" in proposal.failure
    assert plan.week.revision == 1


def test_data_that_do_not_fit_together_are_named(plan):
    GroupSettings.objects.create(club=plan.scene.club, group=plan.scene.group, policy={"rest_days_per_week": 9})
    proposal, job = ask(plan)
    solve_proposal(job_id=job.pk, solve=fast)
    proposal.refresh_from_db()
    assert proposal.state == "failed"
    assert "rest_days_per_week" in proposal.failure


def test_a_week_changed_before_the_work_began_is_said(plan):
    proposal, job = ask(plan)
    type(plan.week).objects.filter(pk=plan.week.pk).update(revision=9)
    solve_proposal(job_id=job.pk, solve=lambda *a, **k: pytest.fail("nothing to solve"))
    proposal.refresh_from_db()
    assert (proposal.state, "changed" in proposal.failure) == ("failed", True)


def test_who_asked_and_is_no_head_coach_any_more_gets_nothing(plan):
    proposal, job = ask(plan)
    StaffRole.objects.filter(person=plan.scene.head_coach).delete()
    solve_proposal(job_id=job.pk, solve=fast)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.plan) == ("failed", None)


def test_an_error_nobody_foresaw_is_told_and_raised(plan):
    proposal, job = ask(plan)
    with pytest.raises(ZeroDivisionError):
        solve_proposal(job_id=job.pk, solve=lambda *a, **k: 1 / 0)
    proposal.refresh_from_db()
    assert (proposal.state, Job.objects.get(pk=job.pk).state) == ("failed", "failed")


def test_a_lost_worker_that_comes_back_writes_nothing(plan):
    proposal, job = ask(plan)

    def overtaken(document, **options):
        lose(job)
        assert claim_job(job.pk) is not None
        return fast(document, **options)

    solve_proposal(job_id=job.pk, solve=overtaken)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.plan) == ("running", None)


def test_a_placed_week_is_solved_with_the_least_change(plan):
    place(plan.demand("hard"), plan.at(2, 18), plan.scene.coach)
    place(plan.demand("technique"), plan.at(4, 18), plan.scene.coach)
    place(plan.demand("easy"), plan.at(5, 18), plan.scene.second_coach)
    proposal, job = ask(plan)
    solve_proposal(job_id=job.pk, solve=fast)
    proposal.refresh_from_db()
    assert proposal.plan["score"]["moved"] == 0


# Who may, and what is left behind


@pytest.mark.parametrize("who", ["coach", "athlete", "guardian", "admin", "welfare"])
def test_others_find_no_week(plan, who):
    with pytest.raises(NotFound):
        propose_week(viewer=viewer_for(getattr(plan.scene, who), who), monday=plan.monday)
    assert not Proposal.objects.exists()


def test_a_week_without_demands_is_refused(plan):
    plan.week.demands.all().delete()
    with pytest.raises(Refused) as refused:
        propose_week(viewer=plan.viewer, monday=plan.monday)
    assert refused.value.code == "NO_DEMANDS"


def test_every_write_leaves_its_line(plan):
    proposal, job = ask(plan)
    solve_proposal(job_id=job.pk, solve=fast)
    stop_proposal(viewer=plan.viewer, proposal_id=proposal.pk)
    lines = AccessLogEntry.objects.filter(club=plan.scene.club).order_by("seq").values_list("verb", "kind")
    assert list(lines) == [("made", "week"), ("ask", "proposal"), ("solve", "proposal")]
