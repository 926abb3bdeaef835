"""The app that holds the shared plumbing."""

from django.apps import AppConfig


class CommonConfig(AppConfig):
    name = "teamtrack.common"
    label = "common"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from teamtrack.common import checks  # noqa: F401 - registers itself
