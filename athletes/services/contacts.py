"""Numbers to ring and who may collect, entered by a guardian who decides for the child: the own entries alone."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.models import ContactNumber
from athletes.selectors.contacts import get_child_to_ring_about
from athletes.services.access_log import Act, log_acts
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound, Refused

MOST_NUMBERS = 6
FIELDS = ("name", "relation", "phone", "order", "may_collect")


@transaction.atomic
def save_contact(
    *, viewer: Viewer, athlete_id: UUID, contact_id: UUID | None, name: str, relation: str, phone: str, order: int,
    may_collect: bool,
) -> ContactNumber:  # fmt: skip
    """Add a number, or change one. The same name and number again is the row that is there."""
    athlete = get_child_to_ring_about(viewer, athlete_id)
    confirmed_first(viewer.club)
    rows = list(ContactNumber.objects.select_for_update().filter(athlete=athlete))
    own = [row for row in rows if row.entered_by_id == viewer.person_id]
    row = _of(own, contact_id) if contact_id else _same(own, name, phone)
    if row is None and len(rows) >= MOST_NUMBERS:
        text = _("There are %(most)d numbers already: change one, or take one away. Nothing was kept.")
        raise Refused("TOO_MANY", text % {"most": MOST_NUMBERS})
    row = row or ContactNumber(club_id=viewer.club_id, athlete=athlete, entered_by=viewer.person)
    row.name, row.relation, row.phone = name.strip(), relation.strip(), phone.strip()
    row.order, row.may_collect = order, may_collect
    row.save()
    log_acts(viewer=viewer, acts=[Act("set", "contact", athlete.pk, FIELDS)])
    return row


@transaction.atomic
def remove_contact(*, viewer: Viewer, athlete_id: UUID, contact_id: UUID) -> ContactNumber:
    """Take a number away; answers what it was, for whoever wants it back."""
    athlete = get_child_to_ring_about(viewer, athlete_id)
    rows = ContactNumber.objects.select_for_update().filter(athlete=athlete, entered_by=viewer.person_id)
    row = _of(list(rows), contact_id)
    row.delete()
    log_acts(viewer=viewer, acts=[Act("removed", "contact", athlete.pk, FIELDS)])
    return row


def _of(rows: list[ContactNumber], contact_id: UUID) -> ContactNumber:
    found = next((row for row in rows if row.pk == contact_id), None)
    if found is None:
        raise NotFound()
    return found


def _same(rows: list[ContactNumber], name: str, phone: str) -> ContactNumber | None:
    wanted = (name.strip().casefold(), "".join(phone.split()))
    return next((row for row in rows if (row.name.casefold(), "".join(row.phone.split())) == wanted), None)
