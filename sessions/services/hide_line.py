"""An athlete puts a line of the own page out of sight, or brings it back; nobody else's view changes."""

from uuid import UUID

from django.db import transaction

from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Entry, HiddenLine
from sessions.selectors.my_running import OWN, TOLD
from teamtrack.common.errors import NotFound


@transaction.atomic
def hide_line(*, viewer: Viewer, entry_id: UUID, is_hidden: bool) -> None:
    """Hide one entry about the viewer, or show it again. Raises NotFound for any other; twice changes nothing."""
    viewer.must_be(Role.ATHLETE)
    rows = Entry.objects.filter(club=viewer.club_id, athlete=viewer.person_id, kind__in=[*OWN, *TOLD])
    entry = rows.filter(pk=entry_id).first()
    if entry is None:
        raise NotFound()
    if is_hidden:
        _line, is_changed = HiddenLine.objects.get_or_create(
            entry=entry,
            defaults={"club_id": viewer.club_id, "athlete_id": viewer.person_id, "hidden_on": viewer.today},
        )
    else:
        is_changed = bool(HiddenLine.objects.filter(entry=entry, athlete=viewer.person_id).delete()[0])
    if is_changed:
        log_acts(viewer=viewer, acts=[Act("set", "hidden_line", viewer.person_id, ("hidden_on",))])
