"""Words that follow from a few plain values, worked out once for each language."""

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import ParamSpec, TypeVar

from django.utils.translation import get_language

P = ParamSpec("P")
R = TypeVar("R")
MOST = 1024


def by_language(work: Callable[P, R]) -> Callable[P, R]:
    """Remembers what `work` gave for equal arguments in the language in use; it reads nothing but those two."""

    @lru_cache(maxsize=MOST)
    def remembered(_language: str | None, *given: P.args, **named: P.kwargs) -> R:
        return work(*given, **named)

    @wraps(work)
    def worked(*given: P.args, **named: P.kwargs) -> R:
        return remembered(get_language(), *given, **named)

    return worked
