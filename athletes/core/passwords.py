"""What a password needs (NIST SP 800-63B rev. 4: length alone, no rules of composition, a list of what is refused)."""

import unicodedata
from collections.abc import Iterable

LEAST_ALONE = 15
"""Characters of a password that is the only proof (NIST SP 800-63B rev. 4, section 3.1.1.2)."""

LEAST_WITH_FACTOR = 12
"""Characters where a second factor is required as well (the standard says 8; the club asks for more)."""

MOST = 200
LEAST_COUNTED = 4
"""Letters of a word from which it counts as the club's: "AC" or "Ada" stands in many a good password."""


def as_typed(password: str) -> str:
    """One form for what is one text on the screen: composed or not, it signs in alike (Unicode NFC)."""
    return unicodedata.normalize("NFC", password)


def plain(text: str) -> str:
    """Letters and digits alone, without accents, in small letters: as words of a password are compared."""
    folded = unicodedata.normalize("NFKD", text).casefold()
    return "".join(letter for letter in folded if letter.isalnum())


def made_of_known(password: str, known: Iterable[str]) -> bool:
    """Whether, without the club's own words, so little is left that the password is easily guessed.

    `known` are names of the club, its groups and the person. Digits never make up for them: years are the first guess.
    """
    left = plain(password)
    words = {plain(part) for text in known for part in (text, *text.split())}
    for word in sorted((one for one in words if len(one) >= LEAST_COUNTED), key=len, reverse=True):
        left = left.replace(word, "")
    letters = "".join(letter for letter in left if not letter.isdigit())
    return len(set(letters)) < LEAST_COUNTED
