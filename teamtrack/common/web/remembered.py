"""Parts of a page that follow from a few plain values alone: rendered once, and remembered by those very values.

Whoever is shown a remembered part had every value of it before: what a decision let somebody see is never handed to
somebody else by it. A part reads no request and no row, for neither stands among its values.
"""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from functools import lru_cache
from uuid import UUID

from django.template.loader import get_template
from django.utils.safestring import SafeString
from django.utils.translation import get_language

MOST_PARTS = 512
"""Of a few thousand characters each, as a rule: some megabytes a process."""

PLAIN = (str, int, float, date, time, UUID, type(None))


def remembered_part(template: str, values: Mapping[str, object]) -> SafeString:
    """The template rendered with nothing but the values: plain ones, tuples and frozen dataclasses of them.

    Raises TypeError for a value that could change, and for markup inside of one: an equal text that is none would be
    shown as it.
    """
    given = tuple((name, type(value), value) for name, value in values.items())
    return _rendered(template, get_language(), given)


@lru_cache(maxsize=MOST_PARTS)
def _rendered(template: str, _language: str | None, given: tuple[tuple[str, type, object], ...]) -> SafeString:
    for name, kind, value in given:
        if kind is not SafeString:
            _must_be_plain(name, value)
    return get_template(template).render({name: value for name, _, value in given})


def _must_be_plain(name: str, value: object) -> None:
    if isinstance(value, tuple):
        for one in value:
            _must_be_plain(name, one)
    elif is_dataclass(value) and not isinstance(value, type) and _is_frozen(value):
        for one in fields(value):
            _must_be_plain(f"{name}.{one.name}", getattr(value, one.name))
    elif isinstance(value, SafeString | datetime) or not isinstance(value, PLAIN):
        message = f"{name} is a {type(value).__name__}: a remembered part takes plain values"
        raise TypeError(message)


def _is_frozen(value: object) -> bool:
    return bool(type(value).__dataclass_params__.frozen)  # type: ignore[attr-defined]
