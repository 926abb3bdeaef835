"""The only way to wake a worker: after the commit, by task name, and never at the cost of the request."""

from django.db import transaction

from teamtrack.celery import app


def enqueue(name: str, *ids: str) -> None:
    """Publish the task `name` with ids once the transaction is committed; a silent broker is no error.

    The sweep finds the row that nobody was woken for.
    """

    def publish() -> None:
        app.loader.import_default_modules()  # a web process has not read the apps' tasks yet
        app.tasks[name].apply_async(ids, retry=False)

    transaction.on_commit(publish, robust=True)
