"""Holds: what is kept of an athlete for a legal reason though its time is up; set, looked at again, lifted."""

from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.access import athletes_visible_to
from athletes.core.keeping import review_by
from athletes.models import Hold
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.requests import take_up_again
from athletes.viewer import Viewer
from teamtrack.common.errors import Conflict, NotFound, Refused


@transaction.atomic
def set_hold(*, viewer: Viewer, athlete_id: UUID, reference: str, review_on: date | None = None) -> Hold:
    """Keep what there is of an athlete until the hold is lifted; looked at again within 90 days.

    `reference` names a paper file elsewhere. Raises NotFound for a stranger's athlete, Refused without a reference or
    with a day too late, Conflict where a hold stands.
    """
    athlete = next((one for one in athletes_visible_to(_admin(viewer)) if one.pk == athlete_id), None)
    if athlete is None:
        raise NotFound()
    if not reference.strip():
        raise Refused("CHECK_FIELDS", _("Say in which paper file the reason lies. Nothing was changed."))
    if Hold.objects.select_for_update().filter(athlete=athlete, lifted_on=None).exists():
        raise Conflict("ALREADY_DONE", _("There is a hold on this athlete already. Nothing was changed."))
    row = Hold.objects.create(
        club_id=viewer.club_id, athlete=athlete, reference=reference.strip(), set_on=viewer.today,
        set_by=viewer.person, review_by=_within_90_days(viewer, review_on),
    )  # fmt: skip
    log_acts(viewer=viewer, acts=[Act("set", "hold", athlete.pk, ("reference", "review_by"), "LEGAL_HOLD")])
    return row


@transaction.atomic
def review_hold(*, viewer: Viewer, hold_id: UUID) -> Hold:
    """The reason was looked at today and still stands: 90 days more at most."""
    row = _open(viewer, hold_id)
    row.review_by = review_by(viewer.today)
    row.save(update_fields=["review_by"])
    log_acts(viewer=viewer, acts=[Act("extend", "hold", row.athlete_id, ("review_by",), "LEGAL_HOLD")])
    return row


@transaction.atomic
def lift_hold(*, viewer: Viewer, hold_id: UUID) -> Hold:
    """The reason is gone: what is over its time goes from the next night on; erasures that it stopped are due again."""
    row = _open(viewer, hold_id)
    row.lifted_on, row.lifted_by = viewer.today, viewer.person
    row.save(update_fields=["lifted_on", "lifted_by"])
    log_acts(viewer=viewer, acts=[Act("closed", "hold", row.athlete_id, ("lifted_on",))])
    take_up_again(viewer=viewer, athlete=row.athlete)
    return row


def _within_90_days(viewer: Viewer, day: date | None) -> date:
    latest = review_by(viewer.today)
    if day is None:
        return latest
    if not viewer.today < day <= latest:
        raise Refused("CHECK_FIELDS", _("A hold is looked at again within 90 days. Nothing was changed."))
    return day


def _open(viewer: Viewer, hold_id: UUID) -> Hold:
    row = Hold.objects.select_for_update().filter(pk=hold_id, club=_admin(viewer).club_id).first()
    if row is None:
        raise NotFound()
    if row.lifted_on is not None:
        raise Conflict("ALREADY_DONE", _("This hold was lifted before. Nothing was changed."))
    return row


def _admin(viewer: Viewer) -> Viewer:
    if viewer.role != Role.ADMIN:
        raise NotFound()
    return viewer
