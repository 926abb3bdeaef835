"""Runs the demo's processes in one start: restarts those that die, ends all of them together."""

import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from teamtrack.common.serving.parent_death import end_with_parent

LOOK_EVERY_S = 0.2
REST_BEFORE_RESTART_S = 1.0
TIME_TO_END_S = 5.0


@dataclass
class Child:
    """One process that is to run: its name and command."""

    name: str
    command: Sequence[str]
    process: subprocess.Popen[bytes] | None = None
    started_at: float = 0.0

    def start(self, environment: Mapping[str, str]) -> None:
        parent = os.getpid()
        self.started_at = time.monotonic()
        self.process = subprocess.Popen(  # noqa: S603 - our own commands
            self.command, env=dict(environment), preexec_fn=lambda: end_with_parent(parent)
        )

    @property
    def is_running(self) -> bool:
        return self.process is not None and self.process.poll() is None

    @property
    def may_start(self) -> bool:
        """Not running, and not started only just now: a child that dies at once is not started in a tight loop."""
        rested = time.monotonic() - self.started_at >= REST_BEFORE_RESTART_S
        return not self.is_running and (self.process is None or rested)


@dataclass
class Supervisor:
    """Keeps some children running until it is told to stop."""

    children: Sequence[Child]
    environment: Mapping[str, str]
    tell: Callable[[str], None]
    stopping: bool = field(default=False, init=False)

    def run(self, *, is_ready: Callable[[], bool], on_ready: Callable[[], None]) -> None:
        """Run until SIGINT or SIGTERM; call `on_ready` once, when `is_ready` first says so."""
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._stop)
        told_ready = False
        while not self.stopping:
            self._start_missing()
            if not told_ready and is_ready():
                told_ready = True
                on_ready()
            time.sleep(LOOK_EVERY_S)
        self._end_all()

    def _start_missing(self) -> None:
        for child in self.children:
            if child.may_start:
                if child.process is not None:
                    self.tell(f"{child.name} ended ({child.process.returncode}); starting it again.")
                child.start(self.environment)

    def _stop(self, *_: object) -> None:
        self.stopping = True

    def _end_all(self) -> None:
        """Ask all children to end, and kill those that do not: what they had in hand is taken up at the next start."""
        running = [child.process for child in self.children if child.process is not None and child.is_running]
        for process in running:
            process.terminate()
        until = time.monotonic() + TIME_TO_END_S
        for process in running:
            try:
                process.wait(timeout=max(until - time.monotonic(), 0.1))
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def answers_ready(base_url: str) -> bool:
    """Whether the server says that everything it needs is there."""
    try:
        with urllib.request.urlopen(f"{base_url}/readyz", timeout=2) as answer:  # noqa: S310 - our own address
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False


def web(*, bind: str, port: int) -> Child:
    """Pages and API."""
    address = f"[{bind}]:{port}" if ":" in bind else f"{bind}:{port}"
    settings = "python:teamtrack.common.serving.gunicorn_settings"
    return Child("web", (sys.executable, "-m", "gunicorn", "-c", settings, "--bind", address))


def worker(queue: str, *, with_beat: bool = False) -> Child:
    """A worker of one queue; one of them keeps the schedule."""
    beat = ("--beat", "--scheduler", "celery.beat:Scheduler") if with_beat else ()
    quiet = ("--without-gossip", "--without-mingle", "--without-heartbeat", "--loglevel", "WARNING")
    command = (sys.executable, "-m", "celery", "-A", "teamtrack", "-q", "worker", "--pool", "solo", "-Q", queue)
    return Child(f"worker of {queue}", (*command, "-n", f"{queue}@%h", *beat, *quiet))
