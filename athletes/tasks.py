"""Celery tasks of WHO: thin, safe to run twice."""

from athletes.services.keep import begin_nights, keep
from athletes.services.roster_work import work_roster_file
from athletes.services.signed_heads import sign_heads
from teamtrack.celery import app
from teamtrack.common.jobs import claim_job, end_job, leased


@app.task(name="athletes.sign_access_log")
def sign_access_log() -> None:
    """Sign what is new in every access log."""
    sign_heads()


@app.task(name="athletes.begin_nights")
def begin_keeping() -> None:
    """Begin the nightly run of every club whose night it is."""
    begin_nights()


@app.task(name="athletes.keep")
def keep_of_job(job_id: str) -> None:
    """The nightly run of one job; begun again by the next worker where this one is lost."""
    job = claim_job(job_id)
    if job is not None:
        with leased(job):
            keep(run_id=job.target_id)
        end_job(job)


@app.task(name="athletes.work_roster_file")
def work_roster_file_of_job(job_id: str) -> None:
    """Read a roster file, or apply one that was chosen about."""
    work_roster_file(job_id=job_id)
