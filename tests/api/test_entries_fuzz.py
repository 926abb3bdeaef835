"""Whatever is sent, each entry is answered on its own and the server stays on its feet."""

import json
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sessions.models import Entry
from tests.api.entry_posts import OWN_KEYS, Phone, entry, new_id
from tests.people import Scene, answer
from tests.sizes import examples

pytestmark = pytest.mark.django_db
SETTINGS = settings(
    max_examples=examples(600), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)

TEXTS = st.text(max_size=12) | st.sampled_from(["\x00", "\ud800", "tall_hips", "\u202e", "held", " "])
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=6,
)
KEYS = ["id", "session", "kind", "athlete", "stride", "at", "device", "replaces", "withdrawn", "by", "seq"]
OWN = sorted({key for keys in OWN_KEYS.values() for key in keys})
CHANGES = st.dictionaries(st.sampled_from(KEYS + OWN), ANYTHING, max_size=3)


@pytest.fixture
def phone(scene: Scene, signed_in: Callable[..., Client]) -> Phone:
    answer(scene.adult_athlete, scene.adult_athlete, names=(scene.coach,))
    return Phone(signed_in(scene.coach), scene.coach, scene.training_session)


@SETTINGS
@given(changes=st.lists(st.tuples(st.sampled_from([*OWN_KEYS]), CHANGES), min_size=1, max_size=5))
def test_each_entry_is_answered(scene: Scene, phone: Phone, changes: list[tuple[str, dict[str, Any]]]) -> None:
    sent = [entry(kind, scene.adult_athlete, scene.training_session) | change for kind, change in changes]
    answers = phone.post(*sent)
    for one, said in zip(sent, answers, strict=True):
        assert said["answer"] in ("accepted", "known", "conflict", "refused")
        assert Entry.objects.filter(pk=said["id"]).exists() or said["answer"] == "refused"
        assert said["id"] in (None, one["id"])
    again = phone.post(*sent)
    for first, second in zip(answers, again, strict=True):
        if first["answer"] == "accepted":
            assert (second["answer"], second["seq"]) == ("known", first["seq"])
        else:
            assert {**second, "answer": first["answer"]} == {**first, "answer": first["answer"]}


@SETTINGS
@given(body=st.binary(max_size=60) | ANYTHING.map(lambda value: json.dumps(value).encode()))
def test_no_body_brings_it_down(phone: Phone, body: bytes) -> None:
    response = phone.client.generic("POST", phone.address, body or b" ", "application/json")
    assert (response.status_code, response.json()["code"]) == (400, "MALFORMED")


@SETTINGS
@given(entries=st.lists(ANYTHING, max_size=5))
def test_what_is_no_entry_is_refused(phone: Phone, entries: list[Any]) -> None:
    assert {one["answer"] for one in phone.post(*entries)} <= {"refused"}


@SETTINGS
@given(
    order=st.permutations(range(6)), repeats=st.lists(st.integers(0, 5), max_size=6), cuts=st.sets(st.integers(1, 11))
)
def test_any_order_any_repeats_any_cut_into_batches(
    scene: Scene, phone: Phone, order: list[int], repeats: list[int], cuts: set[int]
) -> None:
    """The same set is kept and the same counts, however it was sent."""
    Entry.objects.all().delete()
    first, second = new_id(), new_id()
    made = [
        entry("cue", scene.athlete, scene.training_session, id=first),
        entry("cue", scene.athlete, scene.training_session, id=second, replaces=first),
        entry("cue", scene.athlete, scene.training_session, replaces=first, words="Other words"),
        entry("cue", scene.athlete, scene.training_session, replaces=second, withdrawn=True),
        entry("run", scene.athlete, scene.training_session, replaces=first),
        entry("observation", scene.child, scene.training_session),
    ]
    sent = [made[place] for place in [*order, *repeats]]
    marks = [0, *sorted(cut for cut in cuts if cut < len(sent)), len(sent)]
    for start, end in pairwise(marks):
        phone.post(*sent[start:end])
    items = phone.items()
    assert sorted(item["id"] for item in items) == sorted(one["id"] for one in made)
    counting = phone.counting()
    assert counting["ids"] == sorted(made[place]["id"] for place in (2, 4, 5))
    assert counting["beside"] == []
