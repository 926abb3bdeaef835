"""The club's own periods: how long a kind of data is kept here, where that differs from the usual."""

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import NEVER_SHORTER, PERIOD_DAYS
from athletes.models import ClubPeriod
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.keepers import all_keepers
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound, Refused


def kinds_with_period() -> list[str]:
    """The kinds that a night removes by their days, in the order of the contract."""
    kept = {keeper.kind for keeper in all_keepers()}
    return [kind.value for kind in PERIOD_DAYS if kind.value in kept]


@transaction.atomic
def set_period(
    *, viewer: Viewer, kind: str, days: int | None, reason: str = "", reason_shown: bool = False
) -> ClubPeriod | None:
    """Keep a kind for so many days from the next night on; without days the usual period holds again.

    Raises NotFound for a kind without a period, Refused where it may not be shorter, or where a longer one has no
    reason that stands in the notice.
    """
    if viewer.role != Role.ADMIN or kind not in kinds_with_period():
        raise NotFound()
    usual = PERIOD_DAYS[Purpose(kind)]
    rows = ClubPeriod.objects.filter(club=viewer.club_id, kind=kind)
    if days is None or days == usual:
        rows.delete()
        log_acts(viewer=viewer, acts=[Act("set", "period", fields=(kind, str(usual)))])
        return None
    if days < usual and Purpose(kind) in NEVER_SHORTER:
        raise Refused("TOO_SHORT", _("This is proof and may not go earlier. Nothing was changed."))
    if days > usual and not (reason.strip() and reason_shown):
        raise Refused(
            "REASON_FIRST", _("Longer than usual wants a reason that stands in the notice. Nothing was changed.")
        )
    row, _is_new = ClubPeriod.objects.update_or_create(
        club_id=viewer.club_id, kind=kind,
        defaults={"days": days, "reason": reason.strip(), "reason_shown": bool(reason.strip()) and reason_shown},
    )  # fmt: skip
    log_acts(viewer=viewer, acts=[Act("set", "period", fields=(kind, str(days)))])
    return row
