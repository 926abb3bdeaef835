"""The roster as a file and the emergency sheet leave the server with a line in the access log."""

from django.db import transaction

from athletes.core.roster_file.writing import roster_csv
from athletes.selectors.emergency_sheet import SheetGroup, emergency_sheet
from athletes.selectors.known_people import members_of
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer


@transaction.atomic
def roster_as_csv(*, viewer: Viewer) -> bytes:
    """The members as CSV. Raises NotFound for anybody but an admin."""
    content = roster_csv(members_of(viewer))
    log_acts(viewer=viewer, acts=[Act("made", "roster", fields=("csv",))])
    return content


@transaction.atomic
def print_emergency_sheet(*, viewer: Viewer) -> list[SheetGroup]:
    """The emergency sheet to print. Raises NotFound for anybody but an admin."""
    groups = emergency_sheet(viewer)
    log_acts(viewer=viewer, acts=[Act("made", "roster", fields=("emergency_sheet",))])
    return groups
