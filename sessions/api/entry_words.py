"""What the exchange of entries says to a person: one sentence for each code."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

NOT_JSON = _("Entries are sent as JSON. Nothing was stored.")
TOO_LARGE = _("That is too much at once. Nothing was stored; send half of it.")
MALFORMED = _("What was sent cannot be read. Nothing was stored.")
OTHER_PERSON = _("These entries belong to somebody else than who is signed in. Nothing was stored.")
BAD_QUERY = _("The address asks for something that does not exist here.")

_NOT_KEPT = _("There is no permission to keep this about the athlete. It was not kept; tell the coach in person.")
_REFUSED: dict[str, Promise] = {
    "BAD_ENTRY": _("This is no entry."),
    "BAD_ID": _("The entry has no valid id."),
    "UNKNOWN_KIND": _("There is no such kind of entry."),
    "UNKNOWN_KEY": _("The entry says something that its kind does not have."),
    "BAD_VALUE": _("A value is missing or out of range."),
    "BAD_TEXT": _("The words are empty or hold a character that cannot be kept."),
    "WRONG_SESSION": _("The entry belongs to another training session."),
    "NOT_FOR_YOU": _("This is not for you to enter."),
    "ERASED": _("This entry was taken away since and does not come back."),
    "UNKNOWN_FEATURE": _("The club has no such point."),
    "UNKNOWN_ATHLETE": _("The athlete is not on this training session's list."),
    "MEMBERSHIP_ENDED": _("The athlete has left the club. The entry was not kept."),
    "ASSIGNMENT_ENDED": _("You were not assigned, or a check was out of date, on that day. The entry was not kept."),
    "RESTRICTED": _("These data of the athlete may only be stored for now. The entry was not kept."),
    "NOT_A_NAMED_RECIPIENT": _(
        "You are not named among those who may know. It was not kept; tell the coach in person."
    ),
}


def refusal_words(code: str) -> str:
    """The sentence for the code of a refused entry; all codes that are not listed are of missing permission."""
    return str(_REFUSED.get(code, _NOT_KEPT))
