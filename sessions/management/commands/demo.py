"""`demo`: make the invented club unless it is there, then serve pages, API and background work in one start."""

import fcntl
import os
import secrets
from argparse import RawDescriptionHelpFormatter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction

from athletes.models import Club
from sessions.demo.accounts import facts_of, known_passwords, renew_passwords, write_facts
from sessions.demo.club import OtherClubs, demo_club, extend_demo_club, make_demo_club
from sessions.demo.greeting import greeting
from teamtrack.common.heartbeat import forget
from teamtrack.common.serving.app_login import AppLogin, make_app_login
from teamtrack.common.serving.environment import add_options, address_of
from teamtrack.common.serving.supervisor import Supervisor, answers_ready, web, worker

QUEUES = ("default", "solve")


class Command(BaseCommand):
    help = "Make the invented club in DIR unless it is there, bring it up to today, and serve it until Ctrl-C."

    def create_parser(self, *args: Any, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(*args, **kwargs)
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = "Example:\n  python manage.py demo --port 8000 --today 2027-03-09"
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        add_options(parser)

    def handle(self, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("The demo is started by manage.py alone: python manage.py demo")
        data = Path(settings.DATA_DIR)
        with _alone(data):
            base_url = address_of(options["bind"], options["port"])
            facts = self._prepare(data, base_url, seed=options["seed"])
            if options["facts"]:
                write_facts(options["facts"].resolve(), facts)
            self._tell(greeting(facts, facts_path=data / "facts.json", today=options["today"]))
            if not options["no_serve"]:
                self._serve(data, base_url, bind=options["bind"], port=options["port"])

    def _prepare(self, data: Path, base_url: str, *, seed: int) -> dict[str, Any]:
        """Tables, static files, club and facts."""
        call_command("migrate", verbosity=0, interactive=False)
        call_command("collectstatic", verbosity=0, interactive=False)
        club, passwords = _club_and_passwords(data / "facts.json", seed=seed)
        facts = facts_of(club, base_url=base_url, passwords=passwords)
        write_facts(data / "facts.json", facts)
        return facts

    def _serve(self, data: Path, base_url: str, *, bind: str, port: int) -> None:
        environment = _serving_environment(data)
        connection.close()
        for queue in QUEUES:
            forget(queue)
        children = (web(bind=bind, port=port), worker("default", with_beat=True), worker("solve"))
        ready = f"Ready: {base_url}  (Ctrl-C ends it)"
        Supervisor(children, environment, self._tell).run(
            is_ready=lambda: answers_ready(base_url), on_ready=lambda: self._tell(ready)
        )

    def _tell(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()


def _club_and_passwords(facts_path: Path, *, seed: int) -> tuple[Club, Mapping[str, str]]:
    """The club as it is today, and the passwords of its accounts; new ones where the file of facts is gone."""
    club = demo_club()
    if club is None:
        try:
            return make_demo_club(seed=seed)
        except OtherClubs as error:
            raise CommandError("This database holds other clubs: give the demo a database of its own.") from error
    extend_demo_club(club, seed=seed)
    return club, known_passwords(facts_path) or renew_passwords(club)


def _serving_environment(data: Path) -> dict[str, str]:
    """The children's environment: on PostgreSQL with a login that owns nothing, made or renewed now."""
    environment = dict(os.environ)
    scratch = data / "tmp"
    scratch.mkdir(exist_ok=True)
    environment["TMPDIR"] = str(scratch)
    if connection.vendor == "postgresql":
        environment["DATABASE_APP_URL"] = _app_url()
        for name in ("DATABASE_URL", "TEAMTRACK_AS_OWNER"):
            environment.pop(name, None)
    return environment


def _app_url() -> str:
    """The serving login's address: the given one, or that of a login named after the database."""
    given = os.environ.get("DATABASE_APP_URL")
    if given:
        call_command("create_app_login", stdout=StringIO())
        return given
    login = AppLogin(name=f"{connection.settings_dict['NAME']}_app", password=secrets.token_urlsafe(24))
    with transaction.atomic():
        make_app_login(connection, login)
    return login.url(connection.settings_dict)


@contextmanager
def _alone(data: Path) -> Iterator[None]:
    """Hold the folder for this start; CommandError where another one serves from it."""
    with (data / "demo.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CommandError(f"Another start serves from {data} already.") from None
        yield
