"""The Celery application: Redis where a server has it, files in the data folder on the embedded default."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "teamtrack.settings")

app = Celery("teamtrack")
app.config_from_object("teamtrack.celery_settings")
app.autodiscover_tasks(["teamtrack.common", "athletes", "sessions"])

from teamtrack.common.serving import worker_life  # noqa: E402, F401 - connects the worker's signals
