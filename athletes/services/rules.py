"""The guard before real data: a named person of the club has confirmed its rule book, or the club is a demo."""

from django.conf import settings
from django.utils.translation import gettext as _

from athletes.models import Club, RulesConfirmed
from teamtrack.common.errors import Refused

RULES_FIRST = "RULES_FIRST"


def confirmed_first(club: Club) -> None:
    """Raises Refused, saying what to do, before a named person stands for the club's rules, ages and wordings.

    Whatever adds a person's data or a yes calls it; a no or a stop never does. The demo's people
    are invented: it is exempt.
    """
    if not settings.DEMO and not RulesConfirmed.objects.filter(club=club).exists():
        raise Refused(
            RULES_FIRST,
            _(
                "First a named person of the club confirms its rules, ages and wordings: an admin finds them under "
                "To do. Nothing was kept."
            ),
        )
