"""The page's own check and count of entries, run in Chromium on the shared table and on random schedules."""

import dataclasses
import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route

from sessions.core.entries import values
from sessions.core.entries.counting import Link, counting
from sessions.core.entries.kinds import KINDS, NEVER_NULL, SHARED_KEYS
from tests.core.entries.table import counting_cases, shape_cases
from tests.sizes import examples

pytestmark = pytest.mark.browser

MODULES = Path(__file__).parents[2] / "teamtrack/common/static/js/entries"
ORIGIN = "https://club.test"

CHECK = """async (text) => {
  const { checkEntry } = await import("/shape.js");
  return JSON.parse(text).map(({ raw, session, poster }) => checkEntry(raw, { session, poster }));
}"""
COUNT = """async (sets) => {
  const { counting } = await import("/counting.js");
  return sets.map((entries) => counting(entries));
}"""
TABLE = """async () => {
  const { KINDS, NEVER_NULL, SHARED_KEYS } = await import("/kinds.js");
  return { KINDS, NEVER_NULL, SHARED_KEYS };
}"""


def serve_module(route: Route) -> None:
    name = route.request.url.removeprefix(ORIGIN + "/")
    if not name:
        route.fulfill(body="<!doctype html><title>Entries</title>", content_type="text/html")
    else:
        route.fulfill(body=(MODULES / name).read_text(), content_type="text/javascript")


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context()
    page = context.new_page()
    page.route(ORIGIN + "/**", serve_module)
    page.goto(ORIGIN + "/")
    yield page
    context.close()


def test_shape_by_the_shared_table(page: Page) -> None:
    """Sent as JSON text, for not all that stands in it can be handed over as a value."""
    cases = shape_cases()
    text = json.dumps(cases).replace("Infinity", "1e400")
    for case, found in zip(cases, page.evaluate(CHECK, text), strict=True):
        assert (case["name"], found) == (case["name"], case["expect"])


def test_counting_by_the_shared_table(page: Page) -> None:
    cases = counting_cases()
    for case, found in zip(cases, page.evaluate(COUNT, [case["entries"] for case in cases]), strict=True):
        assert (case["name"], found) == (case["name"], {"ids": case["ids"], "beside": case["beside"]})


def random_entries(dice: random.Random) -> list[dict[str, Any]]:
    ids = [f"{number:02}" for number in range(dice.randint(1, 14))]
    return [
        {
            "id": one,
            "kind": dice.choice(["cue", "cue", "cue", "stop", "felt"]),
            "athlete": dice.choice(["runner-1", "runner-2"]),
            "by": dice.choice(["coach-1", "coach-2", "runner-1", "runner-2"]),
            "replaces": dice.choice([None, *(other for other in [*ids, "98", "99"] if other != one)]),
            "withdrawn": dice.random() < 0.3,
        }
        for one in dice.sample(ids, dice.randint(0, len(ids)))
    ]


def test_counting_as_the_server_counts_on_random_schedules(page: Page) -> None:
    dice = random.Random(20270309)
    sets = [random_entries(dice) for _ in range(examples(10_000))]
    for entries, found in zip(sets, page.evaluate(COUNT, sets), strict=True):
        links = [Link(**{k: e[k] for k in e if k != "withdrawn"}, is_withdrawal=e["withdrawn"]) for e in entries]
        expected = counting(links)
        assert found == {"ids": list(expected.ids), "beside": [list(group) for group in expected.beside]}


NAMES = {values.EntryId: "entry_id"}


def as_data(rule: Any) -> dict[str, Any] | None:
    if rule is None:
        return None
    fields = {name: list(v) if isinstance(v, tuple) else v for name, v in dataclasses.asdict(rule).items()}
    return {"type": NAMES.get(type(rule), type(rule).__name__.lower()), **fields}


def test_the_page_has_the_servers_table_of_kinds(page: Page) -> None:
    found = page.evaluate(TABLE)
    assert found["SHARED_KEYS"] == {key: as_data(rule) for key, rule in SHARED_KEYS.items()}
    assert set(found["NEVER_NULL"]) == NEVER_NULL
    for kind in found["KINDS"].values():
        kind["postedBy"], kind["needed"] = set(kind["postedBy"]), set(kind["needed"])
    assert found["KINDS"] == {
        name: {
            "keys": {key: as_data(rule) for key, rule in kind.keys.items()},
            "needed": kind.needed,
            "oneOf": list(kind.one_of),
            "needsFeature": kind.needs_feature,
            "stride": as_data(kind.stride),
            "purpose": kind.purpose,
            "postedBy": kind.posted_by,
        }
        for name, kind in KINDS.items()
    }
