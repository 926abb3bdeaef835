"""Every published fact row is answered as it expects, by the core and by the table of rules."""

import json
from pathlib import Path
from typing import Any

import pytest

from athletes.core.permissions import decide
from athletes.core.permissions.reading import read_row
from tests.core.permissions import contract_table

# The rows of the permissions contract, as published beside it.
ROWS = [json.loads(line) for line in (Path(__file__).parent / "permission_rows.jsonl").read_text().splitlines()]
SAID_BESIDE = ("expect", "why")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_a_published_row(row: dict[str, Any]) -> None:
    asked = {field: value for field, value in row.items() if field not in SAID_BESIDE}
    read = read_row(json.dumps(asked).encode())
    answer = decide(read.facts)
    assert {"may": answer.may, "code": answer.code} == row["expect"], row["why"]
    assert read.id == row["id"]
    assert contract_table.answer(contract_table.plain(asked)) == (row["expect"]["may"], row["expect"]["code"])


def test_no_row_is_missing() -> None:
    assert len(ROWS) == len({row["id"] for row in ROWS}) == 128
