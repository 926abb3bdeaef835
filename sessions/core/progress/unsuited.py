"""What does not suit an athlete: wordings, or whole points, that are no longer offered."""

from collections.abc import Collection
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Note:
    """One note: the code of a feature and the words that do not suit; empty words mean the point itself."""

    feature: str
    words: str = ""


def same_words(words: str) -> str:
    """Words as they are compared: case and the number of blanks do not count."""
    return " ".join(words.split()).casefold()


def is_unsuited(notes: Collection[Note], feature: str, words: str) -> bool:
    """Whether these words about a feature are noted as not suiting, or the feature itself is."""
    wanted = {"", same_words(words)}
    return any(note.feature == feature and same_words(note.words) in wanted for note in notes)
