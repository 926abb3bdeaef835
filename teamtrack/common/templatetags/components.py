"""Template tags of the common components."""

from typing import Any

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString

from teamtrack.common.paper_size import paper_size
from teamtrack.common.qr_code import drawing_of
from teamtrack.common.web.remembered import remembered_part
from teamtrack.common.web.undo import is_fetched_ahead, taken_offer

register = template.Library()


@register.filter
def is_for_person(level_tag: str) -> bool:
    """A message that wants somebody to act, as against one that only tells."""
    return level_tag in {"warning", "error"}


@register.simple_tag
def kind(code: str, word: str) -> SafeString:
    """A session's kind: its edge and its word."""
    return format_html('<span class="kind kind-{}">{}</span>', code, word)


@register.simple_tag
def remembered(template: str, **values: object) -> SafeString:
    """Include a template that is given these plain values and nothing else; rendered once for equal values."""
    return remembered_part(template, values)


@register.filter
def prints_on(country: str | None) -> str:
    """The paper of a club's country; without a club A4."""
    return paper_size(country or "")


@register.inclusion_tag("components/qr_code.html")
def qr_code(text: str, label: str) -> dict[str, Any]:
    """A text as a code to scan; `label` says what it opens."""
    drawing = drawing_of(text)
    return {"size": drawing.size, "path": drawing.path, "label": label}


@register.inclusion_tag("components/told.html", takes_context=True)
def told(context: Context) -> dict[str, Any]:
    """What the last step has to say, once; a page that is only fetched to be kept leaves it for the next."""
    request = context.get("request")
    return {"messages": [] if request is None or is_fetched_ahead(request) else context.get("messages", [])}


@register.inclusion_tag("components/undo.html", takes_context=True)
def undo_offer(context: Context) -> dict[str, Any]:
    """The undo bar, once, if the last step offered one."""
    request = context.get("request")
    offer = taken_offer(request) if request is not None else None
    return {"undo": offer, "csrf_token": context.get("csrf_token")}
