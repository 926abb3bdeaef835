"""The login that serves on PostgreSQL: it owns nothing, obeys row security and cannot change the access log."""

from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from django.core.exceptions import ImproperlyConfigured

from teamtrack.common.row_security import TABLES as GUARDED

APPEND_ONLY = ("athletes_accesslogentry", "athletes_ledgerline")
"""Tables to which the serving login adds, and which it reads: the access log and the ledger of what was removed."""

READ_ONLY = ("django_migrations",)
WHAT_TO_DO = (
    "Give servers a login of their own in DATABASE_APP_URL (manage.py create_app_login makes it): no superuser, "
    "no BYPASSRLS, owner of nothing."
)


@dataclass(frozen=True)
class AppLogin:
    """Name and password of the serving login."""

    name: str
    password: str

    def url(self, database: dict[str, Any]) -> str:
        """The database's address with this login; `database` as in the settings."""
        login = f"{quote(self.name, safe='')}:{quote(self.password, safe='')}"
        host, port = database.get("HOST") or "127.0.0.1", database.get("PORT") or 5432
        return f"postgres://{login}@{quote(str(host), safe='')}:{port}/{quote(str(database['NAME']), safe='')}"


def make_app_login(connection: Any, login: AppLogin) -> None:
    """Make the login, or renew its password, and grant what serving needs; run by the owner after each migration."""
    from psycopg import sql

    role, database = sql.Identifier(login.name), sql.Identifier(connection.settings_dict["NAME"])
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [login.name])
        verb = sql.SQL("ALTER" if cursor.fetchone() else "CREATE")
        statements = [
            sql.SQL(
                "{} ROLE {} LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS PASSWORD {}"
            ).format(verb, role, sql.Literal(login.password)),
            sql.SQL("GRANT CONNECT ON DATABASE {} TO {}").format(database, role),
            sql.SQL("GRANT USAGE ON SCHEMA public TO {}").format(role),
            sql.SQL("GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {}").format(role),
            sql.SQL("GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {}").format(role),
            *(_revoked("UPDATE, DELETE, TRUNCATE", table, role) for table in APPEND_ONLY),
            *(_revoked("INSERT, UPDATE, DELETE, TRUNCATE", table, role) for table in READ_ONLY),
        ]
        for statement in statements:
            cursor.execute(statement.as_string(cursor.connection))


def _revoked(what: str, table: str, role: Any) -> Any:
    from psycopg import sql

    return sql.SQL("REVOKE {} ON {} FROM {}").format(sql.SQL(what), sql.Identifier(table), role)  # type: ignore[arg-type]


_PASSES_BY = "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user"
_OWNS = """
SELECT relname FROM pg_class JOIN pg_namespace AS space ON space.oid = relnamespace
WHERE space.nspname = 'public' AND relkind IN ('r', 'p', 'S', 'v') AND pg_has_role(relowner, 'MEMBER')"""
_CHANGES = """
SELECT relname FROM pg_class
WHERE oid = to_regclass(%s) AND has_table_privilege(oid, 'UPDATE, DELETE, TRUNCATE')"""
_UNGUARDED = "SELECT relname FROM pg_class WHERE oid = to_regclass(%s) AND NOT relrowsecurity"


def login_fault(connection: Any) -> str:
    """Why this login may not serve, in words; empty where it may. SQLite knows no logins."""
    if connection.vendor != "postgresql":
        return ""
    with connection.cursor() as cursor:
        cursor.execute(_PASSES_BY)
        if cursor.fetchone()[0]:
            return "The serving login passes row security by."
        cursor.execute(_OWNS)
        if owned := cursor.fetchone():
            return f"The serving login owns {owned[0]}."
        for table in APPEND_ONLY:
            cursor.execute(_CHANGES, [table])
            if cursor.fetchone():
                return f"The serving login can change {table}."
        for table in GUARDED:
            cursor.execute(_UNGUARDED, [table])
            if cursor.fetchone():
                return f"Row security is off on {table}: run manage.py migrate."
    return ""


def refuse_owner_login(connection: Any) -> None:
    """Raise ImproperlyConfigured where the serving login could change the access log or pass row security by."""
    if fault := login_fault(connection):
        raise ImproperlyConfigured(f"{fault} {WHAT_TO_DO}")
