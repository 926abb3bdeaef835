"""The made-up language itself: it must find what nobody can translate."""

from django.template import engines
from django.utils.formats import date_format

from teamtrack.common.clock import utc_now
from tests.pseudo_locale import in_brackets, untranslatable


def rendered(source: str) -> str:
    with in_brackets():
        return engines["django"].from_string(source).render({})


def test_translated_text_is_not_found():
    assert (
        untranslatable(rendered("<p>{% translate 'Save' %}</p><b aria-label=\"{% translate 'Close' %}\">x</b>")) == []
    )


def test_plain_text_and_plain_labels_are_found():
    page = "<p>Plain words</p><b aria-label=\"Shut\">{% translate 'Save' %}</b><script>let silent = 1</script>"
    assert set(untranslatable(rendered(page))) == {"Shut", "Plain", "words"}


def test_dates_are_translatable():
    with in_brackets():
        assert untranslatable(f"<p>{date_format(utc_now(), 'D j M Y, H:i')}</p>") == []
