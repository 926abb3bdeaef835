"""A club as plain lines without ids, keys, passwords and moments of the real clock: alike clubs give the same lines."""

from collections.abc import Iterator
from contextlib import contextmanager
from uuid import UUID

from django.apps import apps
from django.db import models, transaction

from sessions.models import Entry
from tests.entries import pains_kept

LEFT_OUT = {
    "athletes.Account": {"password", "last_login"},
    "athletes.Club": {"created_at"},
    "athletes.HealthKey": {"made_at"},
    "training.PainDetail": {"sealed"},
    "training.WeekPlan": {"changed_at"},
}
NOT_OF_THE_CLUB = {
    "athletes.AccessLogEntry", "athletes.ChainHead", "athletes.LedgerLine", "athletes.PseudonymKey",
    "auth.Permission", "contenttypes.ContentType", "training.DraftStep", "training.PlanChange",
}  # fmt: skip


@contextmanager
def undone() -> Iterator[None]:
    """What is written in here is taken back at the end."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def dump() -> list[str]:
    """All rows, each as one line, sorted."""
    names: dict[tuple[object, object], str] = {}
    for model in apps.get_models():
        for row in model._default_manager.all():
            names[model, row.pk] = _own_name(row)
    sealed = [f"{names[Entry, entry.pk]} {said}" for entry, said in pains_kept()]
    return sorted([line for model in apps.get_models() for line in _lines(model, names)] + sealed)


def _own_name(row: models.Model) -> str:
    """What tells a row from others of its kind, by its own columns."""
    text = [str(value) for name, value in _plain_values(row) if name not in ("revision",)]
    return f"{row._meta.object_name}({'|'.join(text)})"


def _plain_values(row: models.Model) -> Iterator[tuple[str, object]]:
    left_out = LEFT_OUT.get(row._meta.label, set())
    for field in row._meta.concrete_fields:
        if not field.is_relation and not field.primary_key and field.name not in left_out:
            yield field.name, getattr(row, field.name)


def _lines(model: type[models.Model], names: dict[tuple[object, object], str]) -> Iterator[str]:
    if model._meta.label in NOT_OF_THE_CLUB:
        return
    many = [field.name for field in model._meta.many_to_many]
    for row in model._default_manager.prefetch_related(*many):
        told = [names[model, row.pk]]
        for field in row._meta.concrete_fields:
            if field.is_relation:
                told.append(f"{field.name}={names.get((field.related_model, getattr(row, field.attname)))}")
        for name in many:
            told.append(f"{name}={sorted(names[type(other), other.pk] for other in getattr(row, name).all())}")
        line = " ".join(told)
        assert not any(isinstance(part, UUID) for part in told)
        yield line
