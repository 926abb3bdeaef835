"""Every model field is classed: what it may say about whom. A new field that could say something fails here."""

from django.apps import apps
from django.db import models

from athletes.models import Person
from teamtrack.common.backup import tables
from tests.field_classes import CLASSES, FREE_TEXT, NONE, OTHER_PERSON, PERSONAL, SPECIAL

OURS = ("athletes", "sessions", "teamtrack")
SAYS = (models.CharField, models.TextField, models.JSONField, models.BinaryField)
KNOWN = {PERSONAL, SPECIAL, FREE_TEXT, OTHER_PERSON, NONE}


def our_models():
    return [one for one in apps.get_models() if one.__module__.split(".")[0] in OURS]


def is_worked_out(model, field):
    """What cannot say anything by itself: keys, the club, links to other tables; in a table that leads to no person
    also numbers, days, yes or no, and fixed choices."""
    if field.primary_key or field.name == "club":
        return True
    if isinstance(field, models.ForeignKey):
        return field.related_model is not Person
    leads = any(one.is_relation and one.related_model is Person for one in model._meta.concrete_fields)
    return not leads and (bool(field.choices) or not isinstance(field, SAYS))


def classed(name):
    return {field: kind for kind, fields in CLASSES.get(name, {}).items() for field in fields.split()}


def test_every_field_is_classed():
    missing, gone = [], []
    for model in our_models():
        known = classed(model.__name__)
        names = {field.name for field in model._meta.concrete_fields}
        missing += [
            f"{model.__name__}.{field.name}"
            for field in model._meta.concrete_fields
            if field.name not in known and not is_worked_out(model, field)
        ]
        gone += [f"{model.__name__}.{name}" for name in known.keys() - names]
    assert missing == [], "class them in tests/field_classes.py"
    assert gone == []
    assert CLASSES.keys() <= {model.__name__ for model in our_models()}
    assert {kind for kinds in CLASSES.values() for kind in kinds} <= KNOWN


def test_whose_row_it_is_is_never_nobody_s():
    """A link to a person is about that person, or about another one."""
    for model in our_models():
        for field in model._meta.concrete_fields:
            if field.is_relation and field.related_model is Person:
                assert classed(model.__name__)[field.name] != NONE, (model, field)


def test_what_is_typed_has_an_end():
    """Words that somebody typed are as long as a page lets them be, never endless; answers to requests are letters."""
    endless = [
        f"{model.__name__}.{name}"
        for model in our_models()
        for name, kind in classed(model.__name__).items()
        if kind == FREE_TEXT and isinstance(model._meta.get_field(name), models.TextField)
    ]
    assert endless == ["DataRequest.answer", "DataRequest.kept"]


def test_health_lies_in_tables_of_its_own():
    """Sealed, or a key and its days; every row of them belongs to one athlete and is in the backup sealed alone."""
    special = {name for name, kinds in CLASSES.items() if SPECIAL in kinds}
    assert special == {"HealthKey", "HealthStop", "PainDetail"}
    assert {model.__name__ for model in tables()} >= special
    assert isinstance(apps.get_model("training.PainDetail")._meta.get_field("sealed"), models.BinaryField)
