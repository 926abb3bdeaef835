"""Django's flush for test databases, which the access log's triggers would refuse."""

from django.core.management.commands.flush import Command as Flush
from django.db import connections

from athletes.log_guard import drop_guard, set_guard


class Command(Flush):
    """Lift the guard, flush, set it again; never outside a test database."""

    def handle(self, **options) -> None:  # type: ignore[no-untyped-def]
        connection = connections[options["database"]]
        if "test" not in str(connection.settings_dict["NAME"]):
            raise RuntimeError("This flush is for test databases only.")
        drop_guard(connection)
        try:
            super().handle(**options)
        finally:
            set_guard(connection)
