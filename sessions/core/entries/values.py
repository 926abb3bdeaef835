"""The rules for single values of an entry: numbers, choices, instants and texts."""

import re
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

Value = str | int | float | bool | None

# As ECMAScript's Date.prototype.toISOString writes an instant between the years 0 and 9999.
_INSTANT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z")
# RFC 9562, section 5.7: version 7 in the thirteenth digit, variant 10 in the seventeenth.
_UUID7 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
_DEVICE = re.compile(r"[a-z0-9-]{8,64}")
_FORBIDDEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufdd0-\ufdef"
    + "".join(chr(plane << 16 | 0xFFFE) + chr(plane << 16 | 0xFFFF) for plane in range(17))
    + "]"
)
_MOST_WRITTEN_DECIMALS = 40


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number from `low` to `high`; 5.0 is the whole number 5, true is none."""

    low: int
    high: int

    def normal(self, value: object) -> int:
        """The number as an int; ValueError where it is none or out of range."""
        if type(value) is int and self.low <= value <= self.high:
            return value
        exact = _exact(value)
        if not self.low <= exact <= self.high or exact != int(exact):
            raise ValueError
        return int(exact)


@dataclass(frozen=True, slots=True)
class Measure:
    """A number from `low` to `high` with at most `places` decimals that are not zero."""

    low: float
    high: float
    places: int

    def normal(self, value: object) -> float:
        """The number as a float that equals it; ValueError where it is none, out of range or finer."""
        exact = _exact(value)
        if not Decimal(str(self.low)) <= exact <= Decimal(str(self.high)) or _decimals(exact) > self.places:
            raise ValueError
        return float(exact)


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few codes."""

    codes: tuple[str, ...]

    def normal(self, value: object) -> str:
        """The code itself; ValueError where it is none of them."""
        if not isinstance(value, str) or value not in self.codes:
            raise ValueError
        return value


@dataclass(frozen=True, slots=True)
class Text:
    """A text of 1 to `limit` code points; what stands in it is judged apart, by `is_clean_text`."""

    limit: int

    def normal(self, value: object) -> str:
        """The text to the character; ValueError where it is none, empty or too long."""
        if not isinstance(value, str) or not 1 <= len(value) <= self.limit:
            raise ValueError
        return value


@dataclass(frozen=True, slots=True)
class Instant:
    """An instant as a browser writes it, in UTC with milliseconds, from 1970 to 2099."""

    def normal(self, value: object) -> str:
        """The instant as it was written; ValueError where a browser would not write it so."""
        if not isinstance(value, str) or not _INSTANT.fullmatch(value) or not "1970" <= value[:4] <= "2099":
            raise ValueError
        datetime.fromisoformat(value)
        return value


@dataclass(frozen=True, slots=True)
class Code:
    """A code that is looked up elsewhere: any string will do here."""

    def normal(self, value: object) -> str:
        """The string itself; ValueError where it is none."""
        if not isinstance(value, str):
            raise ValueError
        return value


@dataclass(frozen=True, slots=True)
class EntryId:
    """The id of an entry: a UUID of version 7, 36 characters, lower case."""

    def normal(self, value: object) -> str:
        """The id itself; ValueError where it is none."""
        if not isinstance(value, str) or not _UUID7.fullmatch(value):
            raise ValueError
        return value


@dataclass(frozen=True, slots=True)
class Device:
    """The id of a device: 8 to 64 small letters, digits and hyphens."""

    def normal(self, value: object) -> str:
        """The id itself; ValueError where it is none."""
        if not isinstance(value, str) or not _DEVICE.fullmatch(value):
            raise ValueError
        return value


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false; null means false."""

    def normal(self, value: object) -> bool:
        """The flag; ValueError where it is neither true, false nor null."""
        if value is not None and not isinstance(value, bool):
            raise ValueError
        return bool(value)


Rule = Whole | Measure | Choice | Text | Instant | Code | EntryId | Device | Flag


def is_clean_text(text: str) -> bool:
    """Whether a text may be kept: more than white space, no character that is refused.

    Refused are control characters but tab and newline, the marks that turn or isolate the direction of writing
    (U+202A to 202E, U+2066 to 2069), lone surrogates and noncharacters (the Unicode Standard, section 23.7).
    White space is what the Unicode Standard calls so (property White_Space).
    """
    return not text.isspace() and not _FORBIDDEN.search(text)


def _exact(value: object) -> Decimal:
    """The number as it was written, exactly; ValueError where the value is no finite number."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise ValueError
    exact = value if isinstance(value, Decimal) else Decimal(repr(value))
    if not exact.is_finite():
        raise ValueError
    return exact


def _decimals(exact: Decimal) -> int:
    """How many decimals a number needs; more than any rule allows where it was written with over 40."""
    _, digits, exponent = exact.as_tuple()
    written = -int(exponent)
    if written > _MOST_WRITTEN_DECIMALS:
        return written
    while written > 0 and digits[-1] == 0:
        digits, written = digits[:-1] or (0,), written - 1
    return written
