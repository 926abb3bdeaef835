"""Row security on PostgreSQL, set by migrations: an answer, a notice or a health text is seen through its door alone.

It is enabled but not forced: the owner migrates, makes the demo club, backs up and restores, and serves nobody. The
serving login owns nothing; start-up refuses one that row security does not bind.
"""

from collections.abc import Iterable
from typing import Any

from teamtrack.common.row_security import policies

NAME = "through_the_door"


def set_policies(connection: Any, tables: Iterable[str]) -> None:
    """Enable row security on some of the guarded tables; SQLite has none."""
    if connection.vendor != "postgresql":
        return
    conditions = dict(policies())
    with connection.cursor() as cursor:
        for table in tables:
            cursor.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
            cursor.execute(f"DROP POLICY IF EXISTS {NAME} ON {table}")
            cursor.execute(f"CREATE POLICY {NAME} ON {table} USING ({conditions[table]})")


def drop_policies(connection: Any, tables: Iterable[str]) -> None:
    """Lift it, where a migration is undone."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        for table in tables:
            cursor.execute(f"DROP POLICY IF EXISTS {NAME} ON {table}")
            cursor.execute(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")
