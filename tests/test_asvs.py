"""The table of the security standard: every requirement has a test that exists, or a written reason.

OWASP Application Security Verification Standard 5.0.0 (github.com/OWASP/ASVS): all of level 1, and level 2 of sign-in
(V6), sessions (V7), access (V8) and logging (V16). The rest of level 2 and level 3: later. Words are our own.
"""

import ast
import csv
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LEVEL_1 = {
    "1.2": (1, 2, 3, 4, 5), "1.3": (1, 2), "1.5": (1,), "2.1": (1,), "2.2": (1, 2), "2.3": (1,), "3.2": (1, 2),
    "3.3": (1,), "3.4": (1, 2), "3.5": (1, 2, 3), "4.1": (1,), "4.4": (1,), "5.2": (1, 2), "5.3": (1, 2), "6.1": (1,),
    "6.2": (1, 2, 3, 4, 5, 6, 7, 8), "6.3": (1, 2), "6.4": (1, 2), "7.2": (1, 2, 3, 4), "7.4": (1, 2), "8.1": (1,),
    "8.2": (1, 2), "8.3": (1,), "9.1": (1, 2, 3), "9.2": (1,), "10.4": (1, 2, 3, 4, 5), "11.3": (1, 2), "11.4": (1,),
    "12.1": (1,), "12.2": (1, 2), "13.4": (1,), "14.2": (1,), "14.3": (1,), "15.1": (1,), "15.2": (1,), "15.3": (1,),
}  # fmt: skip
LEVEL_2 = {
    "6.1": (2, 3), "6.2": (9, 10, 11, 12), "6.3": (3, 4), "6.4": (3, 4), "6.5": (1, 2, 3, 4, 5), "6.6": (1, 2, 3),
    "6.8": (1, 2, 3, 4), "7.1": (1, 2, 3), "7.3": (1, 2), "7.4": (3, 4, 5), "7.5": (1, 2), "7.6": (1, 2), "8.1": (2,),
    "8.2": (3,), "8.4": (1,), "16.1": (1,), "16.2": (1, 2, 3, 4, 5), "16.3": (1, 2, 3, 4), "16.4": (1, 2, 3),
    "16.5": (1, 2, 3),
}  # fmt: skip


def rows():
    with (ROOT / "tests/asvs.csv").open(newline="", encoding="utf-8") as table:
        return list(csv.DictReader(table))


@cache
def names_in(path):
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")}


def test_every_requirement_has_its_row_and_no_other():
    wanted = [(f"{section}.{number}", level) for level, table in (("1", LEVEL_1), ("2", LEVEL_2))
              for section, numbers in table.items() for number in numbers]  # fmt: skip
    assert len(LEVEL_1) == 36 and sum(map(len, LEVEL_1.values())) == 70
    assert sorted((row["id"], row["level"]) for row in rows()) == sorted(wanted)


def test_no_row_is_blank_and_each_named_test_exists():
    for row in rows():
        assert row["about"], row["id"]
        assert row["test"] or len(row["reason"]) > 10, row["id"]
        for place in filter(None, row["test"].split(";")):
            path, _, name = place.partition("::")
            assert names_in(path), place
            assert not name or name in names_in(path), place
