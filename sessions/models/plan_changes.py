"""Notes that something of a club's published plan changed, whoever wrote it, so that a calendar need not be read anew.

A note is a row that is only added: nobody waits for anybody, and number and newest id together change with each commit.
"""

from collections.abc import Collection, Iterable
from typing import Any
from uuid import UUID

from django.db import models
from django.db.models.signals import post_delete, post_save

from athletes.models import Club
from athletes.models.noted import rows_changed

_fields: dict[type[models.Model], frozenset[str]] = {}


class PlanChange(models.Model):
    """Something of a club's plan changed; ids alone."""

    id = models.BigAutoField(primary_key=True)
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        indexes = [models.Index(fields=["club", "id"], name="plan_changes_by_club")]

    def __str__(self) -> str:
        return f"{self.pk}"


class PlanRows(models.QuerySet[Any]):
    """Rows of the plan: where many are written at once, that is noted too."""

    def update(self, **values: Any) -> int:
        if _tells(self.model, values):
            note_plan_change(set(self.order_by().values_list("club_id", flat=True)))
        return super().update(**values)

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        made = super().bulk_create(objs, *args, **kwargs)
        note_plan_change({row.club_id for row in made})
        return made


def note_plan_change(club_ids: Collection[UUID]) -> None:
    """Note it for these clubs, in the transaction of the change."""
    PlanChange.objects.bulk_create(PlanChange(club_id=club_id) for club_id in club_ids)


def note_changes_of(model: type[models.Model], *fields: str) -> None:
    """Note every row of the model that is made or goes, and every change of one of these columns."""
    _fields[model] = frozenset(fields)
    post_save.connect(_saved, sender=model, dispatch_uid=f"plan_saved_{model.__name__}")
    post_delete.connect(_deleted, sender=model, dispatch_uid=f"plan_deleted_{model.__name__}")
    rows_changed.connect(_changed, sender=model, dispatch_uid=f"plan_changed_{model.__name__}")


def _tells(model: type[models.Model], written: Iterable[str]) -> bool:
    return any(name.removesuffix("_id") in _fields[model] for name in written)


def _saved(sender: type[models.Model], instance: Any, created: bool, update_fields: Any = None, **_: object) -> None:
    if created or update_fields is None or _tells(sender, update_fields):
        note_plan_change([instance.club_id])


def _deleted(sender: type[models.Model], instance: Any, **_: object) -> None:
    note_plan_change([instance.club_id])


def _changed(sender: type[models.Model], pks: Collection[Any], fields: Any, **_: object) -> None:
    if fields is None or _tells(sender, fields):
        note_plan_change(set(sender._base_manager.filter(pk__in=list(pks)).values_list("club_id", flat=True)))
