"""The app that knows WHO: club, people, guardians, permissions, access log."""

from django.apps import AppConfig


class AthletesConfig(AppConfig):
    name = "athletes"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from athletes.services import (
            closings,
            closings_of_factors,
            closings_of_rules,
            copy_parts,
            erase,
            keepers_of_people,
            keepers_of_sign_ins,
            roster_undo,
            sign_ins,
            stops,
        )

        copy_parts.register_all()
        keepers_of_sign_ins.register_all()
        keepers_of_people.register_all()
        erase.register_all()
        closings.register_all()
        closings_of_factors.register_all()
        closings_of_rules.register_all()
        roster_undo.register_all()
        stops.register_all()
        sign_ins.register_all()
