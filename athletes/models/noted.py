"""Rows of which the erasure ledger has to hear: a restore must not open again what was closed since the backup."""

from collections.abc import Iterable
from typing import Any

from django.db import models
from django.dispatch import Signal

rows_changed = Signal()
"""Sent with `pks` and `fields` (None: all) where rows were changed or made without `save`, which has its own signal."""


class NotedRows(models.QuerySet[Any]):
    """A queryset that says which rows it changes or makes."""

    def update(self, **values: Any) -> int:
        pks = list(self.order_by().values_list("pk", flat=True))
        changed = super().update(**values)
        rows_changed.send(sender=self.model, pks=pks, fields=frozenset(values))
        return changed

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        made = super().bulk_create(objs, *args, **kwargs)
        rows_changed.send(sender=self.model, pks=[row.pk for row in made], fields=None)
        return made
