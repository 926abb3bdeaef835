"""What effort and feel are called: said alike wherever they are asked or shown."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

Label = str | Promise

# Whole numbers from 0 to 10; the words at the anchors follow the session rating of Foster et al. 2001, J Strength Cond
# Res 15(1):109-115, table 1 (from memory).
EFFORTS: dict[int, Label] = {
    0: _("rest"),
    1: _("very, very easy"),
    2: _("easy"),
    3: _("moderate"),
    4: _("somewhat hard"),
    5: _("hard"),
    6: "",
    7: _("very hard"),
    8: "",
    9: "",
    10: _("as hard as can be"),
}
CHILD_EFFORTS: dict[int, Label] = {2: _("easy"), 3: _("moderate"), 5: _("hard"), 7: _("very hard")}
"""Under 13 four words, and the numbers that they send (the trackside contract)."""

FEELS: dict[str, Label] = {"by_itself": _("by itself"), "strange": _("strange"), "not_nice": _("not nice")}


def effort_words(*, is_under_13: bool) -> dict[int, str]:
    """How a kept effort is shown: under 13 the word alone, else the number with its word."""
    if is_under_13:
        return {number: str(word) for number, word in CHILD_EFFORTS.items()}
    return {number: f"{number} {word}".strip() for number, word in EFFORTS.items()}
