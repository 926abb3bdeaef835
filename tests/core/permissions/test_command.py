"""The command that answers fact rows: on a bare checkout, all or nothing."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[3]
GOOD = b'{"id": "\xc3\xbc1", "act": "use", "purpose": "audit", "by": "welfare"}'
NO = b'{"id": "2", "act": "use", "purpose": "sale"}'


def run(*arguments: str, rows: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    """Without any environment, as on a machine where nothing is set up."""
    command = [sys.executable, "manage.py", "decide_permission", *arguments]
    return subprocess.run(command, cwd=CHECKOUT, env={}, input=rows, capture_output=True, timeout=60, check=False)


def test_answers_come_in_order() -> None:
    done = run(rows=GOOD + b"\n\n" + NO + b"\n")
    assert (done.returncode, done.stderr) == (0, b"")
    assert [json.loads(line) for line in done.stdout.splitlines()] == [
        {"id": "ü1", "may": True, "code": "LOG_REVIEW"},
        {"id": "2", "may": False, "code": "NEVER"},
    ]


def test_nothing_asked_nothing_answered() -> None:
    done = run()
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")


@pytest.mark.parametrize(
    ("bad", "named"),
    [
        (b'{"id": "3", "act": "use", "guardians": [{"stance": "perhaps"}]}', b"line 3: field guardians[0].stance: "),
        (b"no JSON", b"line 3: field row: "),
        (b'{"id": "3", "act": "use", "purpose": "health"}', b"line 3: field by: "),
    ],
)
def test_one_faulty_line_and_nothing_is_answered(bad: bytes, named: bytes) -> None:
    done = run(rows=GOOD + b"\n\n" + bad + b"\n" + NO)
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr.startswith(named)
    assert done.stderr.count(b"\n") == 1


def test_help_shows_an_example() -> None:
    done = run("--help")
    assert done.returncode == 0
    assert "decide_permission < rows.jsonl > answers.jsonl" in " ".join(done.stdout.decode().split())
