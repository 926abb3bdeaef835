"""Takes something away because it was asked for: the decision in front, what it does registered by whoever keeps it."""

from collections.abc import Callable

from django.utils.translation import gettext as _

from athletes.core.permissions import Answer
from athletes.core.permissions.codes import Code
from athletes.models import DataRequest, Person
from athletes.permission_words import sentence_for
from athletes.viewer import Viewer
from teamtrack.common.errors import Refused

Eraser = Callable[[Viewer, Person], None]
_erasers: dict[str, Eraser] = {}


def register_eraser(what: str, eraser: Eraser) -> None:
    """Make known what takes away one kind of data of an athlete, with its line in the ledger."""
    _erasers[what] = eraser


def erase_on_request(*, viewer: Viewer, row: DataRequest, decided: Answer) -> None:
    """Take away what a request asks for, in its transaction.

    Raises Refused where the decision of today says no, or nobody has registered what takes this kind away.
    """
    if decided.code is not Code.ERASE:
        raise Refused(decided.code, sentence_for(decided.code))
    eraser = _erasers.get(row.what)
    if eraser is None:
        raise Refused("NOT_BY_ITSELF", _("This kind cannot be taken away by a request yet. Nothing was changed."))
    eraser(viewer, row.athlete)
