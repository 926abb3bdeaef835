"""What changed between two versions of a text, word by word, for showing both side by side."""

import re
from dataclasses import dataclass
from difflib import SequenceMatcher


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of one version; changed where the other version has something else, or nothing, in its place."""

    text: str
    is_changed: bool


def changes(before: str, now: str) -> tuple[list[Piece], list[Piece]]:
    """Both versions in pieces, which joined give each text back; unchanged pieces are the same in both."""
    old, new = _words(before), _words(now)
    left: list[Piece] = []
    right: list[Piece] = []
    for tag, old_from, old_to, new_from, new_to in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        is_changed = tag != "equal"
        if old_from < old_to:
            left.append(Piece("".join(old[old_from:old_to]), is_changed))
        if new_from < new_to:
            right.append(Piece("".join(new[new_from:new_to]), is_changed))
    return left, right


def _words(text: str) -> list[str]:
    """Words, signs and spaces apart, so that a changed full stop marks no word."""
    return re.findall(r"\w+|\s+|[^\w\s]", text)
