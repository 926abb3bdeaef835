"""Parts remembered by their values: alike only where every value is, never markup for text, never across languages."""

from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from django.utils.safestring import mark_safe
from django.utils.translation import gettext

from teamtrack.common.by_language import by_language
from teamtrack.common.web.remembered import remembered_part
from tests.pseudo_locale import in_brackets

NOTICE = "components/notice.html"


@dataclass(frozen=True)
class Frozen:
    text: object


@dataclass
class Loose:
    text: str


def test_equal_values_are_rendered_once_and_others_by_themselves():
    first = remembered_part(NOTICE, {"text": "Tall hips", "wants_person": True})
    assert remembered_part(NOTICE, {"text": "Tall hips", "wants_person": True}) is first
    other = remembered_part(NOTICE, {"text": "Quick feet", "wants_person": True})
    assert ("Tall hips" in first, "Tall hips" in other, "Quick feet" in other) == (True, False, True)


def test_text_equal_to_markup_stays_text_whichever_came_first():
    for number, markup_first in enumerate((True, False)):
        text = f"<b>{number}</b>"
        given = [mark_safe(text), text] if markup_first else [text, mark_safe(text)]
        shown = {type(one): remembered_part(NOTICE, {"text": one}) for one in given}
        assert text in shown[type(mark_safe(text))]
        assert text not in shown[str]


MARKUP = mark_safe("<b>")
REFUSED = [(MARKUP,), Frozen(MARKUP), Frozen((Frozen(object()),)), datetime(2027, 3, 9, tzinfo=UTC)]


@pytest.mark.parametrize("value", REFUSED)
def test_markup_inside_and_what_may_change_are_refused(value):
    with pytest.raises(TypeError, match="plain values"):
        remembered_part(NOTICE, {"text": value})


def test_what_can_change_has_no_key():
    with pytest.raises(TypeError, match="unhashable"):
        remembered_part(NOTICE, {"text": Loose("a")})


def test_each_language_has_its_own():
    @by_language
    def greeting(name: str) -> str:
        return f"{gettext('Please look')} {name}"

    plain = remembered_part(NOTICE, {"text": "a", "wants_person": True}), greeting("a")
    with in_brackets():
        other = remembered_part(NOTICE, {"text": "a", "wants_person": True}), greeting("a")
    assert ["⟦Please look⟧" in one for one in (*plain, *other)] == [False, False, True, True]
    assert greeting("a") == "Please look a"
