"""A made-up language in which every translatable string stands in brackets: what stands outside of them is not."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from html.parser import HTMLParser

from django.utils import translation
from django.utils.translation import trans_real

CODE = "en-brackets"
SPOKEN_ATTRIBUTES = {"aria-label", "aria-description", "title", "placeholder", "alt", "data-label"}
SILENT_TAGS = {"script", "style", "template", "code"}
LATIN = re.compile(r"[A-Za-z]{2,}")


class Brackets(trans_real.DjangoTranslation):
    """Puts every message into brackets; placeholders inside stay as they are."""

    def __init__(self) -> None:
        super().__init__("en", domain="django")

    def to_language(self) -> str:
        return CODE

    def gettext(self, message: str) -> str:
        return f"⟦{super().gettext(message)}⟧"

    def ngettext(self, one: str, many: str, number: int) -> str:
        return f"⟦{super().ngettext(one, many, number)}⟧"

    def pgettext(self, context: str, message: str) -> str:
        return f"⟦{message}⟧"


@contextmanager
def in_brackets() -> Iterator[None]:
    """Answer in the made-up language."""
    trans_real._translations[CODE] = Brackets()
    before = trans_real.get_language()
    with translation.override(CODE):
        yield
    trans_real._translations.pop(CODE, None)
    translation.activate(before or "en")


class Spoken(HTMLParser):
    """Collects what a page says: text between tags and in spoken attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in SILENT_TAGS:
            self._silent += 1
        self.said += [value for name, value in attrs if name in SPOKEN_ATTRIBUTES and value]

    def handle_endtag(self, tag: str) -> None:
        if tag in SILENT_TAGS:
            self._silent -= 1

    def handle_data(self, data: str) -> None:
        if not self._silent and data.strip():
            self.said.append(data)


def untranslatable(html: str) -> list[str]:
    """The Latin words of a page that no translator was given (the tests' people have Greek names)."""
    page = Spoken()
    page.feed(html)
    text = "\n".join(page.said)
    while True:
        less = re.sub(r"⟦[^⟦⟧]*⟧", " ", text, flags=re.S)
        if less == text:
            break
        text = less
    return LATIN.findall(text)
