"""The house keeps its shape: floors, sizes, and a line at the head of every module."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MODULES = [
    path
    for top in ("teamtrack", "athletes", "sessions")
    for path in sorted((ROOT / top).rglob("*.py"))
    if "migrations" not in path.parts
]


def test_every_floor_imports_only_lower_ones():
    script = Path(sys.executable).with_name("lint-imports")
    told = subprocess.run(
        [script, "--no-cache"], cwd=ROOT, capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(ROOT)}
    )
    assert told.returncode == 0, told.stdout + told.stderr


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_is_short_and_says_what_it_is(path):
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= 400
    if text.strip():
        assert ast.get_docstring(ast.parse(text)), "open with a line that says what this module is"


def test_no_function_is_long():
    long = []
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.end_lineno - node.lineno + 1 > 60:
                long.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")
    assert long == []
