"""The first start for real: one club, and its first admin, who comes in with a one-time code and sets a password."""

from zoneinfo import available_timezones

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.core.form_codes import FormCode
from athletes.models import Club, Person, SignInSheet, StaffRole
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.clubs import begin_club
from athletes.services.one_time_codes import add_codes, draw_secrets
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from teamtrack.common.errors import Conflict, Refused

LONGEST_NAME = 120


def begin_real_club(
    *, name: str, timezone: str, country: str, emergency_number: str, given_name: str, family_name: str
) -> tuple[Club, FormCode]:
    """Make a club on a new database, and its first admin; answers the code, which is told this once.

    There is no account and no password before the code is used. Raises Conflict where a club is there already, Refused
    where a value cannot be.
    """
    _check(name, timezone, country, emergency_number)
    drawn = draw_secrets(1)
    with transaction.atomic():
        if Club.objects.exists():
            raise Conflict("ALREADY_DONE", _("There is a club here already. Nothing was made."))
        club = begin_club(name=name.strip(), timezone=timezone, country=country, emergency_number=emergency_number)
        admin = Person.objects.create(club=club, given_name=given_name.strip(), family_name=family_name.strip())
        StaffRole.objects.create(club=club, person=admin, role=Role.ADMIN, first_day=today_in(timezone))
        viewer = viewer_for(admin, Role.ADMIN)
        columns = [{"person": admin, "in_person": True}]
        [(_sheet, code)] = add_codes(SignInSheet, viewer=viewer, drawn=drawn, columns=columns)
        acts = [Act("make", "club"), Act("made", "sign_in_sheet", admin.pk, ("code_hash",))]
        log_acts(viewer=viewer, acts=acts)
    return club, code


def _check(name: str, timezone: str, country: str, emergency_number: str) -> None:
    if not 0 < len(name.strip()) <= LONGEST_NAME:
        raise Refused("CHECK_FIELDS", _("The club needs a name, of at most 120 letters."))
    if timezone not in available_timezones():
        raise Refused("CHECK_FIELDS", _("This time zone is not known: write it as Europe/Dublin."))
    if not (len(country) == len("IE") and country.isascii() and country.isalpha() and country.isupper()):
        raise Refused("CHECK_FIELDS", _("The country is two capital letters, as IE."))
    if not emergency_number.isdigit():
        raise Refused("CHECK_FIELDS", _("The emergency number is digits alone, as 112."))
