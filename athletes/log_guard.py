"""Database rules that stop every change of the access log, on SQLite and on PostgreSQL."""

from typing import Any

TABLE = "athletes_accesslogentry"

SQLITE_SET = (
    f"CREATE TRIGGER access_log_no_update BEFORE UPDATE ON {TABLE} "
    "BEGIN SELECT RAISE(ABORT, 'the access log is never changed'); END",
    f"CREATE TRIGGER access_log_no_delete BEFORE DELETE ON {TABLE} "
    "BEGIN SELECT RAISE(ABORT, 'the access log is never changed'); END",
    f"CREATE TRIGGER access_log_no_replace BEFORE INSERT ON {TABLE} "  # noqa: S608
    f"WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE id = NEW.id OR (club_id = NEW.club_id AND seq = NEW.seq)) "
    "BEGIN SELECT RAISE(ABORT, 'the access log is never changed'); END",
)
SQLITE_DROP = tuple(f"DROP TRIGGER IF EXISTS access_log_no_{what}" for what in ("update", "delete", "replace"))
POSTGRES_SET = (
    "CREATE OR REPLACE FUNCTION access_log_refuse() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'the access log is never changed'; END $$",
    f"CREATE TRIGGER access_log_no_change BEFORE UPDATE OR DELETE ON {TABLE} "
    "FOR EACH ROW EXECUTE FUNCTION access_log_refuse()",
    f"CREATE TRIGGER access_log_no_truncate BEFORE TRUNCATE ON {TABLE} "
    "FOR EACH STATEMENT EXECUTE FUNCTION access_log_refuse()",
    f"ALTER TABLE {TABLE} ENABLE ALWAYS TRIGGER access_log_no_change",
    f"ALTER TABLE {TABLE} ENABLE ALWAYS TRIGGER access_log_no_truncate",
)
POSTGRES_DROP = (
    f"DROP TRIGGER IF EXISTS access_log_no_change ON {TABLE}",
    f"DROP TRIGGER IF EXISTS access_log_no_truncate ON {TABLE}",
)


def set_guard(connection: Any) -> None:
    """Set the triggers; called by a migration."""
    _run(connection, POSTGRES_SET if connection.vendor == "postgresql" else SQLITE_SET)


def drop_guard(connection: Any) -> None:
    """Lift the triggers; called where a migration is undone and by the tests' flush."""
    _run(connection, POSTGRES_DROP if connection.vendor == "postgresql" else SQLITE_DROP)


def _run(connection: Any, statements: tuple[str, ...]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
