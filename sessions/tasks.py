"""Celery tasks of WHEN AND WHAT: ids in, one service call, safe to run twice."""

from django.db import transaction

from sessions.services.mail_changes import mail_changes
from sessions.services.mail_emergency import mail_emergency
from sessions.services.solve_proposal import solve_proposal
from sessions.services.solve_rehearsal import solve_rehearsal
from sessions.services.tell_pain import tell_pain
from teamtrack.celery import app
from teamtrack.common.jobs import claim_job, end_job, leased


@app.task(name="training.tell_pain")
def tell_pain_once(job_id: str) -> None:
    """Tell those who may know of a pain entry; the notices and the end of the job stand or fall together."""
    job = claim_job(job_id)
    if job is not None:
        with transaction.atomic():
            tell_pain(entry_id=job.target_id)
            end_job(job)


@app.task(name="training.solve_proposal")
def solve_proposal_of_job(job_id: str) -> None:
    """Solve the proposal of one job."""
    solve_proposal(job_id=job_id)


@app.task(name="training.rehearse_season")
def solve_rehearsal_of_job(job_id: str) -> None:
    """Rehearse the season of one job."""
    solve_rehearsal(job_id=job_id)


@app.task(name="training.mail_changes")
def mail_changes_of_job(job_id: str) -> None:
    """Send the mail of one change to a session or a week's sessions; each notice is marked before its mail leaves."""
    job = claim_job(job_id)
    if job is not None:
        with leased(job):
            mail_changes(target_id=job.target_id)
        end_job(job)


@app.task(name="training.mail_emergency")
def mail_emergency_of_job(job_id: str) -> None:
    """Send the mail about pain notes that were opened in an emergency; each notice is marked before its mail leaves."""
    job = claim_job(job_id)
    if job is not None:
        with leased(job):
            mail_emergency(athlete_id=job.target_id)
        end_job(job)
