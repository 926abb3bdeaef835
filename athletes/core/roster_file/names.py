"""Names compared as people mean them: without case, accents and signs; and names that are nearly the same."""

import re
import unicodedata

NEAR = 2
"""Letters by which two names may differ and still be asked about (our own choice)."""

_LETTERS = str.maketrans({
    "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ð": "d", "þ": "th", "ł": "l", "ı": "i", "ħ": "h", "ŋ": "n",
})  # fmt: skip
_APOSTROPHES = re.compile("['’‘ʼ´`]")


def folded(text: str) -> str:
    """Lower case without accents and signs, words parted by one space: what two spellings of a name share."""
    plain = unicodedata.normalize("NFKD", _APOSTROPHES.sub("", text.casefold())).translate(_LETTERS)
    words = "".join(sign if sign.isalnum() else " " for sign in plain if not unicodedata.combining(sign))
    return " ".join(words.split())


def joined(text: str) -> str:
    """A folded name without the gaps, so that O'Neill, O Neill and ONeill are one."""
    return folded(text).replace(" ", "")


def number_of(phone: str) -> str:
    """A telephone number's digits with what calls abroad as a plus: what two ways to write a number share."""
    said = phone.strip()
    digits = re.sub(r"\D", "", said.replace("(0)", ""))
    if said.startswith("+"):
        return "+" + digits
    return "+" + digits[2:] if digits.startswith("00") else digits


def are_near(given: str, family: str, other_given: str, other_family: str) -> bool:
    """Whether two names, joined but not the same, may be one person's: given and family the other way round, or at most
    two letters apart in all, of names long enough for that to say something."""
    if (given, family) == (other_family, other_given):
        return True
    apart = _apart(given, other_given, NEAR)
    if apart > NEAR:
        return False
    apart += _apart(family, other_family, NEAR - apart)
    return apart <= min(NEAR, max(1, (len(given) + len(family)) // 4))


def _apart(one: str, other: str, most: int) -> int:
    """Letters to put in, take out or change (Levenshtein 1966, the distance named after him), or more than `most`."""
    if one == other:
        return 0
    if abs(len(one) - len(other)) > most:
        return most + 1
    before = list(range(len(other) + 1))
    for row, letter in enumerate(one, 1):
        now = [row]
        for column, against in enumerate(other, 1):
            now.append(min(before[column] + 1, now[-1] + 1, before[column - 1] + (letter != against)))
        if min(now) > most:
            return most + 1
        before = now
    return before[-1]
