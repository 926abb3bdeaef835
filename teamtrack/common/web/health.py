"""Health for whoever watches the server: the process lives; everything that it needs answers."""

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_safe

from teamtrack.common.heartbeat import is_alive
from teamtrack.common.serving.app_login import login_fault

QUEUES = ("default", "solve")
_migrated: set[str] = set()


@login_not_required
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """The process lives."""
    return JsonResponse({"alive": True})


@login_not_required
@require_safe
def readyz(request: HttpRequest) -> HttpResponse:
    """Database, migrations, queue and workers answer: 200, else 503 with what does not."""
    checks = {"database": _database_answers(), "queue": _queue_answers()}
    checks["migrations"] = checks["database"] and _is_migrated()
    checks["login"] = checks["database"] and _login_may_serve()
    checks |= {f"worker_{queue}": checks["queue"] and is_alive(queue) for queue in QUEUES}
    return JsonResponse({"checks": checks}, status=200 if all(checks.values()) else 503)


def _database_answers() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return True


def _is_migrated() -> bool:
    if connection.alias not in _migrated:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            return False
        _migrated.add(connection.alias)
    return True


def _login_may_serve() -> bool:
    """Row security binds this login, and it cannot change the access log."""
    return not settings.CHECK_SERVING_LOGIN or not login_fault(connection)


def _queue_answers() -> bool:
    if not settings.REDIS_URL:
        return (settings.DATA_DIR / "queue" / "messages").is_dir()
    import redis

    try:
        return bool(redis.Redis.from_url(settings.REDIS_URL, socket_connect_timeout=1, socket_timeout=1).ping())
    except redis.RedisError:
        return False
