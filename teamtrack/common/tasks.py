"""Celery tasks of the plumbing."""

from teamtrack.celery import app
from teamtrack.common.jobs import sweep_jobs


@app.task(name="common.sweep_jobs")
def sweep() -> None:
    """Find work whose wake-up call or worker was lost."""
    sweep_jobs()
