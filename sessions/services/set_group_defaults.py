"""Sets what an event group has by default at a technique session, unless somebody else did so meanwhile."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from athletes.models import EventGroup
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_group_set
from sessions.models import GroupSettings
from sessions.selectors.group_defaults import NUMBERS, GroupDefaults, features_in_use, group_defaults
from teamtrack.common.errors import Conflict


@transaction.atomic
def set_group_defaults(*, viewer: Viewer, group_id: UUID, shown: GroupDefaults, wanted: GroupDefaults) -> bool:
    """Write what is wanted where the group still has what the viewer was `shown`; whether anything was changed.

    Raises NotFound where the group is not the viewer's to set, Conflict where somebody changed it meanwhile.
    """
    group = get_group_set(viewer, group_id)
    rows = GroupSettings.objects.select_for_update()
    settings, _made = rows.get_or_create(group=group, defaults={"club_id": viewer.club_id})
    now = group_defaults(viewer=viewer, group=group)
    if now != shown:
        raise Conflict(
            "DEFAULTS_CHANGED",
            gettext(
                "Somebody changed these while you were typing. Nothing of yours was saved: see what changed, "
                "then save again or leave it."
            ),
        )
    changed = tuple(name for name in (*NUMBERS, "looks_for") if getattr(now, name) != getattr(wanted, name))
    if not changed:
        return False
    GroupSettings.objects.filter(pk=settings.pk).update(**{name: getattr(wanted, name) for name in NUMBERS})
    if "looks_for" in changed:
        _look_for(viewer, group, settings, wanted.looks_for)
    log_acts(viewer=viewer, acts=[Act("set", "group", fields=changed)])
    return True


def _look_for(viewer: Viewer, group: EventGroup, settings: GroupSettings, wanted: frozenset[UUID]) -> None:
    """What is not wanted is left out by this group alone; what was meant for other groups is meant for this one too."""
    features = features_in_use(club_id=viewer.club_id, day=viewer.today)
    settings.left_out.set(one for one in features if one.pk not in wanted)
    for feature in features:
        meant_for = list(feature.groups.all())
        if feature.pk in wanted and meant_for and group not in meant_for:
            feature.groups.add(group)
