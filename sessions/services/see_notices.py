"""Marks notices as seen by whom they were written to."""

from uuid import UUID

from django.db import transaction

from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Notice
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open

AS_COACH = (Role.COACH, Role.HEAD_COACH)


@transaction.atomic
def see_notice(*, viewer: Viewer, notice_id: UUID) -> Notice:
    """Mark one notice as seen; somebody else's is not found, and seeing it twice changes nothing. Of an emergency
    nobody is told as a coach, nor sees it as one."""
    with rows_open(people=[viewer.person_id]):
        notice = Notice.objects.filter(pk=notice_id, to=viewer.person_id, club=viewer.club_id).first()
        if notice is None or (notice.kind == Notice.Kind.EMERGENCY and viewer.role in AS_COACH):
            raise NotFound()
        is_new = Notice.objects.filter(pk=notice_id, to=viewer.person_id, seen_at=None).update(seen_at=viewer.now)
    if is_new:
        log_acts(viewer=viewer, acts=[Act("seen", "notice", notice.about_id, ("seen_at",))])
    return notice
