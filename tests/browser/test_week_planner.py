"""The planner at work as the head coach's page shows it: progress, stopping, a worker that was lost, asking again."""

import threading
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from playwright.sync_api import expect

from sessions.core.planner.solve import solve_document
from sessions.services.make_week import make_week
from sessions.services.solve_proposal import solve_proposal
from teamtrack.common.clock import utc_now
from teamtrack.common.jobs import claim_job, sweep_jobs
from teamtrack.common.models import Job
from tests.browser.conftest import DESK, OpenPage, once
from tests.planning import make_plan_scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def until_stopped(
    document: dict[str, Any], *, on_progress: Callable[..., None], should_stop: Callable[[], bool], **_options: object
) -> dict[str, Any]:
    """A planner that tells of a plan and works on until it is stopped."""
    on_progress({"best": 1260, "bound": 980, "seconds": 7.4})
    once(should_stop)
    return solve_document(document, seconds=10.0, workers=1, seed=1)


def worker(job: Job) -> threading.Thread:
    def work() -> None:
        try:
            solve_proposal(job_id=job.pk, solve=until_stopped)
        finally:
            connection.close()

    thread = threading.Thread(target=work)
    thread.start()
    return thread


def test_progress_stopping_and_a_worker_that_was_lost(transactional_db: None, open_page: OpenPage) -> None:
    plan = make_plan_scene()
    make_week(viewer=plan.viewer, monday=plan.monday)
    page = open_page(plan.scene.head_coach, f"/head-coach/week/{plan.monday:%G-W%V}", DESK)
    proposal = page.locator("#proposal")

    page.get_by_role("button", name="Propose").click()
    expect(proposal).to_contain_text("Waiting for the planner")
    working = worker(Job.objects.get())
    expect(proposal).to_contain_text("Working on the week: 7 s")
    expect(proposal).to_contain_text("A plan is there; a better one is looked for.")
    page.get_by_role("button", name="Stop the planner").click()
    expect(page.get_by_role("button", name="Accept all moves", exact=True)).to_be_visible()
    expect(proposal).to_contain_text("3 moves")
    working.join()

    page.get_by_role("button", name="Propose").click()
    expect(proposal).to_contain_text("Waiting for the planner")
    lost = Job.objects.get(state=Job.State.WAITING)
    claim_job(lost.pk)
    Job.objects.filter(pk=lost.pk).update(lease_until=utc_now() - timedelta(seconds=1))
    expect(proposal).to_contain_text("The worker was lost. Another one begins anew")
    Job.objects.filter(pk=lost.pk).update(attempts=3)
    sweep_jobs(wake=lambda *_ids: None)
    expect(proposal).to_contain_text("this was given up")
    page.get_by_role("button", name="Ask again").click()
    expect(proposal).to_contain_text("Waiting for the planner")
