"""Cells that a spreadsheet could take for a formula: made harmless when written, the same again when read."""

import re
import unicodedata

_ACTIVE = "=+\\-@\t\r\n\0＝＋－＠"
"""Signs with which a spreadsheet may begin to reckon (OWASP, CSV injection: = + - @ tab CR LF and full-width forms)."""

_WHERE = rf"(^|[,;\t|])([ ]*)(?='*[{_ACTIVE}])"
"""At the head of a cell, and behind what another spreadsheet may take for the end of one."""

_TO_GUARD = re.compile(_WHERE)
_GUARDED = re.compile(rf"(^|[,;\t|])([ ]*)'(?='*[{_ACTIVE}])")
_HIDDEN = re.compile("[\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff\u00ad]")


def guarded(text: str) -> str:
    """The text with an apostrophe before whatever could begin a formula."""
    return _TO_GUARD.sub(r"\1\2'", text)


def unguarded(text: str) -> str:
    """What `guarded` was given; other text is left alone."""
    return _GUARDED.sub(r"\1\2", text)


def clean(text: str) -> str:
    """One line of text in composed letters, without signs that cannot be seen and without spare spaces."""
    composed = unicodedata.normalize("NFC", _HIDDEN.sub("", text))
    return " ".join(composed.split())


def is_readable(text: str) -> bool:
    """Whether no control sign or lone half of a sign is left in it."""
    return not any(unicodedata.category(sign) in ("Cc", "Cs", "Cn", "Co") for sign in text)
