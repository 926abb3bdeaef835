"""The demo as somebody starts it: a real process on a free port, asked over HTTP, killed with its whole group."""

import http.cookiejar
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
OF_TESTS = ("DJANGO_SETTINGS_MODULE", "SECRET_KEY", "DATABASE_URL", "DATABASE_APP_URL", "REDIS_URL")


def free_port() -> int:
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        return int(listening.getsockname()[1])


@dataclass
class DemoServer:
    """One running start of the demo."""

    data: Path
    port: int
    process: subprocess.Popen[bytes]
    log: Path

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def seconds_until_ready(self, *, at_most: float) -> float:
        """Wait until `/readyz` answers 200; fails with the log where that takes longer."""
        began = time.monotonic()
        while time.monotonic() - began < at_most:
            assert self.process.poll() is None, self.log.read_text()
            if status_of(f"{self.url}/readyz") == 200:
                return time.monotonic() - began
            time.sleep(0.05)
        raise AssertionError(self.log.read_text())

    def kill(self) -> None:
        """SIGKILL to the whole process group, as when the machine is switched off."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(timeout=60)

    def interrupt(self) -> int:
        """Ctrl-C; returns the exit status."""
        os.killpg(self.process.pid, signal.SIGINT)
        return self.process.wait(timeout=60)

    def facts(self) -> Any:
        return json.loads((self.data / "facts.json").read_text())


def status_of(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=5) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        with error:
            return error.code
    except OSError:
        return 0


@contextmanager
def demo_server(
    data: Path, *, more: Mapping[str, str] | None = None, options: tuple[str, ...] = ()
) -> Iterator[DemoServer]:
    """Start the demo in `data`, in a process group of its own; killed at the end if it still runs."""
    environment = {key: value for key, value in os.environ.items() if not _is_of_tests(key)} | dict(more or {})
    port = free_port()
    log = data.with_name(f"{data.name}-{port}.log")
    command = [sys.executable, "manage.py", "demo", "--data", str(data), "--port", str(port), *options]
    with log.open("wb") as out:
        process = subprocess.Popen(
            command, cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT, start_new_session=True
        )
    server = DemoServer(data, port, process, log)
    try:
        yield server
    finally:
        if process.poll() is None:
            server.kill()


def _is_of_tests(key: str) -> bool:
    return key in OF_TESTS or key.startswith("TEAMTRACK_")


class Browser:
    """A signed-in client of the API that keeps its cookies."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.cookies = http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.cookies))

    def sign_in(self, account: Mapping[str, Any]) -> Any:
        self.get("/api/v1/sign-in")
        return self.post("/api/v1/sign-in", {"username": account["username"], "password": account["password"]})

    def get(self, path: str) -> Any:
        with self.opener.open(f"{self.url}{path}", timeout=60) as answer:
            body = answer.read()
        return json.loads(body) if body and answer.headers.get_content_type() == "application/json" else body

    def post(self, path: str, body: Any) -> Any:
        token = next((cookie.value for cookie in self.cookies if cookie.name == "csrftoken"), "") or ""
        request = urllib.request.Request(
            f"{self.url}{path}",
            data=json.dumps(body).encode(),
            headers={"Content-Type": "application/json", "X-CSRFToken": token},
        )
        with self.opener.open(request, timeout=60) as answer:
            return json.loads(answer.read() or b"null")
