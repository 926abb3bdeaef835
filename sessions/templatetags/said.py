"""Template filters for what was said: words for codes, values by key."""

from collections.abc import Mapping

from django import template

register = template.Library()


@register.filter
def of(key: object, words: Mapping[object, object]) -> object:
    """The entry of a mapping under a key: `code|of:labels`."""
    return words.get(key, "")
