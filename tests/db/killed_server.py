"""A real web server on a data folder of its own, that can be killed and started again; and phones that talk to it."""

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg

ROOT = Path(__file__).resolve().parents[2]
UP_WITHIN_S = 240.0
NO_ANSWER_S = 60.0
BUSY = 503


def free_port() -> int:
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass(frozen=True)
class Database:
    """A database on PostgreSQL, as its owner and as who serves with it."""

    owner_url: str
    serving_url: str

    def cut_connections(self) -> None:
        """End every connection of who serves with it, as a restart of the database would."""
        with psycopg.connect(self.owner_url, autocommit=True) as owner:
            owner.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@contextmanager
def own_database() -> Iterator[Database | None]:
    """A database of its own beside the one that the tests use; none where they use SQLite."""
    given = os.environ.get("DATABASE_URL", "")
    if not given:
        yield None
        return
    name, address = f"kill_{uuid.uuid4().hex[:12]}", urlsplit(given)
    with psycopg.connect(address._replace(path="/postgres").geturl(), autocommit=True) as owner:
        owner.execute(f"CREATE DATABASE {name}")
        place = f"{address.hostname}:{address.port or 5432}/{name}"
        try:
            yield Database(address._replace(path=f"/{name}").geturl(), f"postgres://{name}:only-here@{place}")
        finally:
            owner.execute(f"DROP DATABASE {name} WITH (FORCE)")
            owner.execute(f"DROP ROLE IF EXISTS {name}")


class Server:
    """The web server of the product with several workers where the database allows it."""

    def __init__(self, data: Path, database: Database | None, *, workers: int = 2) -> None:
        self.port, self.process, self.database = free_port(), None, database
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("DATABASE_", "REDIS_"))}
        self.environment = kept | {
            "DJANGO_SETTINGS_MODULE": "teamtrack.settings",
            "TEAMTRACK_DATA_DIR": str(data),
            "TEAMTRACK_STATIC_ROOT": str(data),
            "TEAMTRACK_DEMO": "1",
            "SECRET_KEY": "only for this server of a test",
            "PYTHONPATH": str(ROOT),
            "WEB_WORKERS": str(workers),
        }
        if database:
            self.environment |= {"DATABASE_URL": database.owner_url, "DATABASE_APP_URL": database.serving_url}

    def prepare(self) -> dict[str, Any]:
        """Make the tables, the club and on PostgreSQL the serving login; who signs in."""
        facts = self.run("-m", "tests.db.kill_scene")
        if "DATABASE_URL" in self.environment:
            self.run("manage.py", "create_app_login")
        return json.loads(facts)

    def run(self, *arguments: str) -> str:
        """Run Python as the owner of the server's data; what it prints."""
        command, owner = [sys.executable, *arguments], self.environment | {"TEAMTRACK_AS_OWNER": "1"}
        return subprocess.run(command, cwd=ROOT, env=owner, check=True, capture_output=True, text=True).stdout

    def start(self) -> None:
        command = [sys.executable, "-m", "gunicorn", "-c", "python:teamtrack.common.serving.gunicorn_settings"]
        self.process = subprocess.Popen(
            [*command, "--bind", f"127.0.0.1:{self.port}"],
            cwd=ROOT,
            env=self.environment,
            start_new_session=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        ends = time.monotonic() + UP_WITHIN_S
        while not self._answers():
            if time.monotonic() > ends or self.process.poll() is not None:
                raise RuntimeError("The server does not come up.")
            time.sleep(0.05)

    def kill(self) -> None:
        """End all of its processes at once, as a power cut would."""
        if self.process is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None

    def _answers(self) -> bool:
        try:
            with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)) as connection:
                connection.request("GET", "/healthz")
                return connection.getresponse().status == 200
        except (OSError, http.client.HTTPException):
            return False


@dataclass
class Sender:
    """A phone: keeps each entry until the server has answered for it, sends again what was left open, and fetches."""

    server: Server
    username: str
    password: str
    person: str
    training_session: str
    dice: random.Random
    waiting: list[dict[str, Any]] = field(default_factory=list)
    answers: dict[str, dict[str, Any]] = field(default_factory=dict)
    fetched: list[dict[str, Any]] = field(default_factory=list)
    after: int = 0
    cuts: int = 0
    cookies: dict[str, str] = field(default_factory=dict)

    @property
    def address(self) -> str:
        return f"/api/v1/sessions/{self.training_session}/entries"

    def sign_in(self) -> None:
        self.ask("GET", "/api/v1/sign-in")
        status, _ = self.ask("POST", "/api/v1/sign-in", {"username": self.username, "password": self.password})
        assert status == 200

    def send(self) -> None:
        """One exchange with some of what waits, in any order, perhaps sent before; OSError where it is cut."""
        batch = self.dice.sample(self.waiting, min(len(self.waiting), self.dice.randint(1, 8)))
        status, content = self.ask("POST", self.address, {"as": self.person, "entries": batch})
        if status == BUSY:
            raise OSError(content["code"])
        assert status == 200, content
        for entry, answer in zip(batch, content["answers"], strict=True):
            assert answer["answer"] in ("accepted", "known"), answer
            earlier = self.answers.setdefault(entry["id"], answer)
            assert earlier["seq"] == answer["seq"]
        sent = {entry["id"] for entry in batch if self.dice.random() < 0.8}
        self.waiting = [entry for entry in self.waiting if entry["id"] not in sent]

    def fetch(self) -> bool:
        """One page after what is here; whether there is more."""
        status, content = self.ask("GET", f"{self.address}?after={self.after}&limit=20")
        if status == BUSY:
            raise OSError(content["code"])
        assert status == 200, content
        self.fetched += content["items"]
        self.after = content["next"]
        return bool(content["more"])

    def ask(self, method: str, address: str, content: Any = None) -> tuple[int, Any]:
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if content is not None:
            headers |= {"Content-Type": "application/json", "X-CSRFToken": self.cookies.get("csrftoken", "")}
        body = None if content is None else json.dumps(content)
        with closing(http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=NO_ANSWER_S)) as connection:
            connection.request(method, urlsplit(address).geturl(), body, headers)
            response = connection.getresponse()
            text = response.read()
            for header in response.headers.get_all("Set-Cookie") or []:
                name, _, value = header.split(";")[0].partition("=")
                self.cookies[name] = value
        try:
            return response.status, json.loads(text) if text else None
        except ValueError as fault:
            raise AssertionError(f"{method} {address} answered {response.status} with {text[:400]!r}") from fault


def invented_entries(sender: Sender, athletes: list[str], number: int) -> Iterator[dict[str, Any]]:
    """Entries of a coach about several athletes, some about pain, some correcting another, with a wrong clock."""
    earlier: list[dict[str, Any]] = []
    for _ in range(number):
        digits = uuid.UUID(int=sender.dice.getrandbits(128), version=4).hex
        kind = sender.dice.choice(["cue", "stop", "pain"])
        own = {
            "cue": {"feature": "tall_hips", "words": "Grow taller", "how": "told", "understood": "yes"},
            "stop": {},
            "pain": {"place": "knee"},
        }[kind]
        same = [entry["id"] for entry in earlier if entry["kind"] == kind]
        entry = {
            "id": str(uuid.UUID(digits[:12] + "7" + digits[13:])),
            "session": sender.training_session,
            "kind": kind,
            "athlete": sender.dice.choice(athletes),
            "at": f"20{sender.dice.randint(10, 60)}-03-09T17:04:05.123Z",
            "device": "phone-0001",
            "replaces": sender.dice.choice([None, None, *same[-2:]]),
            **own,
        }
        earlier.append(entry)
        yield entry
