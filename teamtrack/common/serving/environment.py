"""The demo's environment, set before the settings are read: its folder, its secret key and its day."""

import argparse
import os
import secrets
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

BASE_DIR = Path(__file__).resolve().parents[3]
DEMO_ZONE = "Europe/Dublin"
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
ANY_ADDRESS = ("0.0.0.0", "::")  # noqa: S104 - compared with, never bound to by default


def add_options(parser: argparse.ArgumentParser) -> None:
    """The options of the command, read twice: before the settings, and by the command itself."""
    parser.add_argument(
        "--data", type=Path, default=BASE_DIR / ".data", metavar="DIR", help="where everything is kept (.data)"
    )
    parser.add_argument("--port", type=int, default=8000, help="port of the web server (8000)")
    parser.add_argument("--bind", default="127.0.0.1", help="address of the web server (127.0.0.1)")
    parser.add_argument("--seed", type=int, default=1, help="which invented club (1)")
    parser.add_argument("--today", type=date.fromisoformat, metavar="YYYY-MM-DD", help="the club's day (the real one)")
    parser.add_argument("--facts", type=Path, metavar="FILE", help="where to write a copy of facts.json")
    parser.add_argument("--no-serve", action="store_true", help="make the club and end")


def set_demo_environment(arguments: Sequence[str]) -> None:
    """Set what the settings read, from the command line's `arguments`; wrong ones are left to the command to refuse."""
    parser = argparse.ArgumentParser(add_help=False, exit_on_error=False)
    add_options(parser)
    try:
        given, _ = parser.parse_known_args(arguments)
    except argparse.ArgumentError:
        given = parser.parse_args([])
    data = given.data.resolve()
    data.mkdir(mode=0o700, parents=True, exist_ok=True)
    os.environ["TEAMTRACK_DEMO"] = "1"
    os.environ["TEAMTRACK_DATA_DIR"] = str(data)
    os.environ["TEAMTRACK_STATIC_ROOT"] = str(data / "static")
    os.environ["TEAMTRACK_DAY_SHIFT"] = str(day_shift(given.today, utc_now=datetime.now(UTC)))
    os.environ["SECRET_KEY"] = secret_key(data / "secret.key")
    os.environ.setdefault("ALLOWED_HOSTS", ",".join(hosts_answered(given.bind)))
    if os.environ.get("DATABASE_URL"):
        os.environ["TEAMTRACK_AS_OWNER"] = "1"


def day_shift(wanted: date | None, *, utc_now: datetime) -> int:
    """By how many days the club's day is to differ from the real one in the demo's zone."""
    return 0 if wanted is None else (wanted - utc_now.astimezone(ZoneInfo(DEMO_ZONE)).date()).days


def secret_key(path: Path) -> str:
    """The secret key kept in a file that its owner alone reads; made the first time."""
    try:
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        kept = path.read_text().strip()
        if kept:
            return kept
        file = os.open(path, os.O_WRONLY | os.O_TRUNC)
    key = secrets.token_urlsafe(50)
    with os.fdopen(file, "w") as out:
        out.write(key)
    return key


def hosts_answered(bind: str) -> list[str]:
    """Names under which the demo answers: loopback, and the address it is bound to; any name where that is any."""
    return ["*"] if bind in ANY_ADDRESS else [*LOOPBACK, bind]


def address_of(bind: str, port: int) -> str:
    """Where to look from this machine."""
    host = "127.0.0.1" if bind in ANY_ADDRESS else bind
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
