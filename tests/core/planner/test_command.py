"""The command as another program calls it: a bare checkout, no database, no environment."""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
EXAMPLES = Path(__file__).parent / "examples"


def solve_plan(*arguments: str) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, "manage.py", "solve_plan", *arguments]
    return subprocess.run(command, cwd=ROOT, env={"PATH": "/usr/bin:/bin"}, capture_output=True, text=True)


def test_a_plan_is_written_to_standard_output():
    told = solve_plan(str(EXAMPLES / "tiny-dst-autumn.json"), "--seconds", "20", "--workers", "1", "--seed", "1")
    plan = json.loads(told.stdout)
    assert (told.returncode, told.stderr) == (0, "")
    assert (plan["status"], plan["objective"], plan["bound"]) == ("optimal", 20, 20)
    assert all(row["reasons"] for row in plan["placed"])


def test_the_same_seed_and_one_worker_give_the_same_plan():
    problem = str(EXAMPLES / "week-small-over.json")
    first, second = (json.loads(solve_plan(problem, "--workers", "1", "--seed", "7").stdout) for _ in range(2))
    assert first | {"seconds": 0} == second | {"seconds": 0}


def test_every_fault_is_told_with_its_path_and_nothing_else_is_printed(tmp_path):
    document = json.loads((EXAMPLES / "tiny-dst-autumn.json").read_text())
    document["demands"][0]["group"] = "nobody"
    document["grid_min"] = 7
    problem = tmp_path / "problem.json"
    problem.write_text(json.dumps(document))
    told = solve_plan(str(problem))
    assert (told.returncode, told.stdout) == (2, "")
    paths = {line.split(": ", 1)[0] for line in told.stderr.splitlines()}
    assert {"demands[0].group", "grid_min"} <= paths


def test_what_is_no_json_is_one_fault(tmp_path):
    problem = tmp_path / "problem.json"
    problem.write_text("{not json")
    told = solve_plan(str(problem))
    assert (told.returncode, told.stdout) == (2, "")
    assert told.stderr.startswith("$: ")


def test_help_gives_an_example():
    told = solve_plan("--help")
    assert told.returncode == 0
    assert "python manage.py solve_plan problem.json" in told.stdout
