"""The demo's one start, as a real process: ready, signed in to, killed, started again; on both databases."""

import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path
from uuid import UUID

import environ
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import connection

from teamtrack.common.clock import utc_now
from teamtrack.common.ids import uuid7
from teamtrack.common.serving.app_login import refuse_owner_login
from tests.demo_server import ROOT, Browser, demo_server, status_of
from tests.processes import children_of, running

FIRST_START_S, LATER_START_S = 50, 5
SLACK = 6
"""Starts are measured by the benchmark; here a busy machine is given more time (no timed assertion)."""


def services() -> list[dict[str, str]]:
    """The environment to serve with: PostgreSQL with Redis where the tests have them, else the embedded default."""
    if os.environ.get("DATABASE_URL") and os.environ.get("REDIS_URL"):
        return [{"DATABASE_URL": os.environ["DATABASE_URL"], "REDIS_URL": os.environ["REDIS_URL"]}]
    return [{}]


@pytest.fixture(params=services(), ids=lambda found: "servers" if found else "embedded")
def served_with(request):
    """The environment, on PostgreSQL with a database of its own that is dropped afterwards."""
    if not request.param:
        yield {}
        return
    name = f"demo_{os.getpid()}"
    url = request.param["DATABASE_URL"]
    base, _, _own = url.rpartition("/")
    _as_admin(url, f'CREATE DATABASE "{name}"')
    try:
        yield {"DATABASE_URL": f"{base}/{name}", "REDIS_URL": request.param["REDIS_URL"]}
    finally:
        _as_admin(url, f'DROP DATABASE "{name}" WITH (FORCE)', f'DROP ROLE IF EXISTS "{name}_app"')


def _as_admin(url, *statements):
    import psycopg

    config = environ.Env().db_url_config(url)
    with psycopg.connect(
        host=config["HOST"] or None, port=config["PORT"] or None, user=config["USER"], password=config["PASSWORD"],
        dbname="postgres", autocommit=True,
    ) as admin:  # fmt: skip
        for statement in statements:
            admin.execute(statement)


@pytest.fixture(scope="module")
def made_club(tmp_path_factory):
    """A folder with the demo club made and nothing served yet, and what the start said: made once, copied by each."""
    data = tmp_path_factory.mktemp("made") / "data"
    with demo_server(data, options=("--no-serve", "--facts", str(data.parent / "copy" / "facts.json"))) as made:
        assert made.process.wait(timeout=FIRST_START_S * SLACK) == 0
        return data, made.log.read_text()


@pytest.fixture
def data(made_club, tmp_path):
    return Path(shutil.copytree(made_club[0], tmp_path / "data"))


def an_account(facts, *usernames):
    return next(row for row in facts["accounts"] if row["username"] in usernames)


def todays_session(facts):
    today = datetime.now().astimezone().date()
    return next(
        row
        for row in facts["sessions"]
        if row["kind"] == "technique"
        and datetime.fromisoformat(row["start"]).date() == today
        and len(row["coaches"]) >= 3
    )


def entry_about(session, athlete):
    return {
        "id": str(uuid7(utc_now())),
        "session": session["id"],
        "kind": "presence",
        "athlete": athlete,
        "at": utc_now().isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "device": "test-phone-0001",
        "state": "came",
    }


def test_killed_with_its_whole_group_it_loses_nothing(tmp_path, served_with):
    data = tmp_path / "data"
    with demo_server(data, more=served_with) as server:
        server.seconds_until_ready(at_most=FIRST_START_S * SLACK)
        facts = server.facts()
        assert facts["base_url"] == server.url
        session = todays_session(facts)
        coach = an_account(facts, *session["coaches"])
        browser = Browser(server.url)
        assert browser.sign_in(coach) == {"person": coach["person"], "roles": coach["roles"]}
        path = f"/api/v1/sessions/{session['id']}/entries"
        kept = []
        for athlete in session["athletes"][:5]:
            answer = browser.post(path, {"as": coach["person"], "entries": [entry_about(session, athlete)]})
            assert [row["answer"] for row in answer["answers"]] == ["accepted"]
            kept.append(answer["answers"][0]["id"])
        server.kill()
    with demo_server(data, more=served_with) as again:
        again.seconds_until_ready(at_most=LATER_START_S * SLACK)
        browser.url = again.url
        found = browser.get(path)["items"]
        assert {UUID(row["id"]) for row in found} == {UUID(entry_id) for entry_id in kept}
        assert again.facts()["accounts"] == facts["accounts"]
        assert again.interrupt() == 0


def test_facts_and_key_are_their_owners_alone_and_the_start_says_where_to_look(made_club):
    data, said = made_club
    facts = data.parent / "copy" / "facts.json"
    modes = {
        path: stat.S_IMODE(path.stat().st_mode) for path in (facts, data / "facts.json", data / "secret.key", data)
    }
    assert modes == {facts: 0o600, data / "facts.json": 0o600, data / "secret.key": 0o600, data: 0o700}
    assert facts.read_text() == (data / "facts.json").read_text()
    assert str(data / "facts.json") in said
    assert all(role in said for role in ("head coach", "coach", "athlete", "guardian", "admin", "welfare"))


def test_a_dead_child_is_started_again_and_no_child_outlives_the_supervisor(data):
    with demo_server(data) as server:
        server.seconds_until_ready(at_most=FIRST_START_S * SLACK)
        children = programs_of(server.process.pid)
        assert sorted(children.values()) == ["celery", "celery", "gunicorn"]
        web = next(pid for pid, name in children.items() if name == "gunicorn")
        os.kill(web, signal.SIGKILL)
        _wait_for(lambda: web not in (new := programs_of(server.process.pid)) and len(new) == 3)
        _wait_for(lambda: status_of(f"{server.url}/healthz") == 200)
        assert programs_of(server.process.pid).keys() <= set(group_of(server.process.pid))
        os.kill(server.process.pid, signal.SIGKILL)
        server.process.wait(timeout=60)
        _wait_for(lambda: not group_of(server.process.pid))


def test_two_starts_on_one_folder_are_refused(data):
    with demo_server(data) as server:
        server.seconds_until_ready(at_most=FIRST_START_S * SLACK)
        with demo_server(data) as second:
            assert second.process.wait(timeout=FIRST_START_S * SLACK) == 1
            assert "already" in second.log.read_text()
        assert status_of(f"{server.url}/healthz") == 200


def test_demo_accounts_cannot_sign_in_outside_the_demo(settings, scene, client):
    account = scene.coach.account
    account.is_demo = True
    account.save()
    client.force_login(account)
    assert client.get("/").status_code in (200, 302)
    assert client.get("/", follow=True).wsgi_request.user.is_authenticated
    settings.DEMO = False
    assert not client.get("/", follow=True, secure=True).wsgi_request.user.is_authenticated


@pytest.mark.django_db
def test_a_login_that_owns_the_tables_does_not_serve():
    if connection.vendor != "postgresql":
        refuse_owner_login(connection)  # SQLite knows no logins
        return
    with pytest.raises(ImproperlyConfigured):
        refuse_owner_login(connection)


def test_the_serving_login_cannot_change_the_access_log(tmp_path, served_with):
    if not served_with:
        assert_command_refuses_sqlite(tmp_path)
        return
    name = served_with["DATABASE_URL"].rpartition("/")[2]
    app_url = served_with["DATABASE_URL"].replace("//postgres", f"//{name}_app:word", 1)
    more = served_with | {"TEAMTRACK_DEMO": "1", "TEAMTRACK_DATA_DIR": str(tmp_path), "SECRET_KEY": "tests only"}
    for command in ("migrate", "create_app_login"):
        done = manage(command, more=more | {"DATABASE_APP_URL": app_url})
        assert done.returncode == 0, done.stderr
    import psycopg

    with psycopg.connect(app_url.replace("postgres://", "postgresql://"), autocommit=True) as app:
        assert app.execute("SELECT rolsuper, rolbypassrls FROM pg_roles WHERE rolname = current_user").fetchone() == (
            False,
            False,
        )
        for statement in (
            "UPDATE athletes_accesslogentry SET verb = ''",
            "DELETE FROM athletes_accesslogentry",
            "TRUNCATE athletes_accesslogentry",
            "DROP TABLE athletes_accesslogentry",
            "ALTER TABLE athletes_accesslogentry DISABLE TRIGGER ALL",
            "DELETE FROM django_migrations",
            "CREATE TABLE mine (id int)",
        ):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                app.execute(statement)
        app.execute("DELETE FROM common_job")
    assert manage("shell", "-c", "import teamtrack.wsgi", more=more | {"DATABASE_APP_URL": app_url}).returncode == 0
    refused = manage("shell", "-c", "import teamtrack.wsgi", more=more)
    assert refused.returncode != 0
    assert "DATABASE_APP_URL" in refused.stderr


def assert_command_refuses_sqlite(folder):
    more = {"TEAMTRACK_DEMO": "1", "TEAMTRACK_DATA_DIR": str(folder), "SECRET_KEY": "tests only"}
    done = manage("create_app_login", more=more)
    assert done.returncode == 1
    assert "SQLite" in done.stderr


def manage(*arguments, more):
    environment = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("TEAMTRACK_", "DJANGO_", "DATABASE_", "REDIS_"))
    }
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment | more,
        capture_output=True,
        text=True,
        timeout=120,
    )


def programs_of(pid: int) -> dict[int, str]:
    """By process id the programs that the supervisor keeps running."""
    found = {child.pid: {"gunicorn", "celery"} & set(child.words) for child in children_of(pid)}
    return {child: names.pop() for child, names in found.items() if names}


def group_of(pid: int) -> list[int]:
    return [process.pid for process in running() if process.group == pid]


def _wait_for(condition, seconds: float = 180):
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until
        time.sleep(0.1)
