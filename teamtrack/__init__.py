"""The Django project of the team server."""

from teamtrack.celery import app as celery_app

__all__ = ["celery_app"]
