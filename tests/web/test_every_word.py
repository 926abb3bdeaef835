"""Every page in a made-up language: what is not in brackets cannot be translated."""

import pytest
from django.urls import reverse

from athletes.models import Account, Club, DigitalAge, EventGroup, Person, Squad, Wording
from sessions.models import Feature, Venue
from tests.doors import FILES, OF_PERSON, OF_ROLE
from tests.pseudo_locale import in_brackets, untranslatable
from tests.test_doors import BY_NAME, address

PAGES = sorted(
    [
        (name, min(people))
        for name, people in (OF_ROLE | OF_PERSON).items()
        if people and not name.startswith("api-") and name not in FILES
    ]
    + [("today", who) for who in ("coach", "head_coach", "athlete", "guardian")]
    + [("own-calendar", who) for who in ("guardian", "head_coach")]
    + [(name, "guardian") for name in ("my-sign-ins", "my-password", "my-factors", "factor-app", "factor-passkey")]
    + [("prove", "guardian"), ("sign-in", None), ("form-by-code", None), ("sheet", None)]
)
GREEK = str.maketrans(
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz", "ΑΒΞΔΕΦΓΗΙΨΚΛΜΝΟΠΘΡΣΤΥΩΩΧΥΖαβξδεφγηιψκλμνοπθρστυωωχυζ"
)
# Codes that stay as they are in every language: age groups, and units.
SAME_EVERYWHERE = {"min", "km"} | {f"U{age}" for age in range(10, 24)}


@pytest.fixture
def greek_scene(scene):
    """The scene with every name of people and places in Greek letters: Latin letters left are the product's own."""
    fields = {
        Account: ("username",),
        Person: ("given_name", "family_name"),
        Club: ("name", "country"),
        DigitalAge: ("country", "source"),
        EventGroup: ("name",),
        Squad: ("name",),
        Venue: ("name",),
        Feature: ("label", "description"),
        Wording: ("question", "explanation"),
    }
    for model, names in fields.items():
        for row in model.objects.all():
            for name in names:
                setattr(row, name, getattr(row, name).translate(GREEK))
            row.save()
    return scene


@pytest.mark.parametrize(("name", "who"), PAGES)
def test_every_word_can_be_translated(greek_scene, signed_in, client, name, who):
    browser = signed_in(getattr(greek_scene, who)) if who else client
    place = address(name, greek_scene) if BY_NAME[name].pattern.converters else reverse(name)
    with in_brackets():
        answer = browser.get(place, follow=True)
    assert answer.status_code == 200
    assert [word for word in untranslatable(answer.content.decode()) if word not in SAME_EVERYWHERE] == []
