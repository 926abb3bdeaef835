"""Backups: every row but open sign-ins and wrong tries, as JSON lines; read back into an empty database of any kind.

Keys lie in no backup: health text in it opens only with the key files, which are copied apart and thrown away sooner.
"""

import gzip
import hashlib
import json
import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model

ROWS, MANIFEST = "rows.jsonl.gz", "manifest.json"
KEPT = timedelta(days=35)
"""How long a backup is kept (the permissions contract, `backup`)."""

BATCH = 500
_STAMP = "teamtrack-%Y%m%dT%H%M%SZ"


class BadBackup(Exception):
    """This backup cannot be restored here; the message says why and what to do."""


def tables() -> list[type[Model]]:
    """The tables that a backup holds, links of many to many among them."""
    skipped = (
        "sessions.Session", "athletes.SignIn", "athletes.Tries", "athletes.UsedCode", "contenttypes.ContentType",
        "auth.Permission",
    )  # fmt: skip
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.managed and model._meta.label not in skipped]


def make_backup(folder: Path, *, now: datetime) -> Path:
    """Write a set into `folder`, all of one moment, whole or not at all; sets older than 35 days are removed."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    place = folder / now.astimezone(UTC).strftime(_STAMP)
    draft = place.with_name(f".{place.name}.{os.getpid()}")
    draft.mkdir(mode=0o700)
    counts: dict[str, int] = {}
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                # A login that row security binds would leave rows out in silence: it is refused instead.
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
                cursor.execute("SET LOCAL row_security = off")
        with gzip.open(draft / ROWS, "wt", encoding="utf-8") as out:
            for model in tables():
                rows = model._base_manager.order_by("pk").iterator(chunk_size=2000)
                counts[model._meta.label] = 0
                for row in rows:
                    out.write(_line(model, row))
                    counts[model._meta.label] += 1
    said = {"made_at": now.isoformat(), "migrations": _migrations(), "rows": counts, "sha256": _digest(draft / ROWS)}
    (draft / MANIFEST).write_text(json.dumps(said, indent=1))
    draft.rename(place)
    _forget_old(folder, now)
    return place


def newest_set(folder: Path) -> Path:
    """The folder itself where it is a set, else the newest set in it."""
    if (folder / MANIFEST).exists():
        return folder
    found = sorted(path for path in folder.glob("teamtrack-*") if (path / MANIFEST).exists())
    if not found:
        raise BadBackup(f"There is no backup in {folder}.")
    return found[-1]


def check_set(place: Path) -> dict[str, Any]:
    """The manifest of a set that is whole and of this version's tables."""
    said: dict[str, Any] = json.loads((place / MANIFEST).read_text())
    if _digest(place / ROWS) != said["sha256"]:
        raise BadBackup(f"{place} is damaged: its rows are not those that were written.")
    if said["migrations"] != _migrations():
        raise BadBackup("This backup was made by another version: restore it with that one, then migrate.")
    return said


def load_rows(place: Path) -> int:
    """Insert every row of a set; the caller opens the transaction. Answers how many."""
    number = 0
    with gzip.open(place / ROWS, "rt", encoding="utf-8") as lines:
        for model, rows in _batches(lines):
            model._base_manager.bulk_create(rows)
            number += len(rows)
    for statement in connection.ops.sequence_reset_sql(no_style(), tables()):
        with connection.cursor() as cursor:
            cursor.execute(statement)
    return number


def is_empty() -> bool:
    """Whether no table holds a row."""
    return not any(model._base_manager.exists() for model in tables())


def _line(model: type[Model], row: Model) -> str:
    fields = {
        one.attname: one.value_to_string(row) for one in model._meta.concrete_fields if _value(one, row) is not None
    }
    return json.dumps([model._meta.label, fields], separators=(",", ":")) + "\n"


def _value(field: Any, row: Model) -> object:
    return getattr(row, field.attname)


def _batches(lines: Any) -> Iterator[tuple[type[Model], list[Model]]]:
    rows: list[Model] = []
    for line in lines:
        label, said = json.loads(line)
        row = _row(apps.get_model(label), said)
        if rows and (type(rows[0]) is not type(row) or len(rows) == BATCH):
            yield type(rows[0]), rows
            rows = []
        rows.append(row)
    if rows:
        yield type(rows[0]), rows


def _row(model: type[Model], said: dict[str, str]) -> Model:
    values = {}
    for field in model._meta.concrete_fields:
        text = said.get(field.attname)
        target = field.target_field if field.remote_field else field
        values[field.attname] = None if text is None else _python(target, text)
    return model(**values)


def _python(field: Any, text: Any) -> object:
    if field.get_internal_type() == "JSONField":
        return json.loads(text) if isinstance(text, str) else text
    return field.to_python(text)


def _migrations() -> list[str]:
    rows = MigrationRecorder(connection).migration_qs.order_by("app", "name").values_list("app", "name")
    return [f"{app}.{name}" for app, name in rows]


def _digest(path: Path) -> str:
    with path.open("rb") as found:
        return hashlib.file_digest(found, "sha256").hexdigest()


def _forget_old(folder: Path, now: datetime) -> None:
    for path in folder.glob("teamtrack-*"):
        try:
            made = datetime.strptime(path.name, _STAMP).replace(tzinfo=UTC)
        except ValueError:
            continue
        if now - made > KEPT:
            shutil.rmtree(path)
