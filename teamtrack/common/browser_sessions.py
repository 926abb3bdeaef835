"""The browser's sessions in the database, found by a query that is composed once."""

from typing import Any

from django.contrib.sessions.backends import db
from django.utils import timezone

from teamtrack.common.composed import Composed, Given


class SessionStore(db.SessionStore):
    """Django's own, for every request asks for one."""

    def _get_session_from_db(self) -> Any:
        found = _IN_FORCE.first(session_key=self.session_key, now=timezone.now())
        if found is None:
            self._session_key = None
        return found


def _in_force() -> Any:
    model = SessionStore.get_model_class()
    fields = model._meta.get_field
    return model.objects.filter(
        session_key=Given("session_key", fields("session_key")), expire_date__gt=Given("now", fields("expire_date"))
    )


_IN_FORCE: Composed[Any] = Composed(_in_force)
