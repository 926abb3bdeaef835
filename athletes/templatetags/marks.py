"""Template filters that say marks in words."""

from typing import Any

from django import template

from athletes.event_words import event_words, time_words, wind_words

register = template.Library()


@register.filter
def event_name(event: str) -> str:
    """ "100 m"."""
    return event_words(event)


@register.filter
def time_said(mark: Any) -> str:
    """The official time of a mark, one by hand with what it is compared as."""
    return time_words(mark.event, mark.time_ms, is_hand=mark.is_hand)


@register.filter
def wind_said(mark: Any) -> str:
    """The wind of a mark where it decides."""
    return wind_words(mark.event, mark.wind_tenths)
