"""The app that knows WHEN AND WHAT: season, calendar, planner, trackside, logs, form history."""

from django.apps import AppConfig


class SessionsConfig(AppConfig):
    name = "sessions"
    label = "training"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from athletes.selectors.requests import register_put_right
        from sessions.selectors.written import put_right_for
        from sessions.services import copy_parts, keepers_of_calendars, keepers_of_training

        copy_parts.register_all()
        keepers_of_calendars.register_all()
        keepers_of_training.register_all()
        register_put_right(put_right_for)
