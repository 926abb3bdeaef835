"""The core and the table of the contract's rules answer alike: on every combination, and on random facts."""

import itertools
import json
import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields
from datetime import date, timedelta
from typing import Any, ClassVar

import pytest

from athletes.core.permissions import Facts, Guardian, decide
from athletes.core.permissions.codes import ALLOWING_CODES, Code
from athletes.core.permissions.facts import Act, Role
from athletes.core.permissions.reading import read_facts, read_row
from tests.core.permissions import contract_table
from tests.core.permissions.product import AGES, COMPOSED, EVERY_FACT, MOST_ROWS, PERSONS, ROLES, SLICES, Row, Slice
from tests.sizes import examples

ACTS = ("use", "answer", "withdraw", "view_as_guardian", "message", "export", "erase", "keep", "withhold")
NO_SUCH_PURPOSE = ("publication", "pictures", "adverts", "profiling", "ranking", "research", "sale")
PURPOSES = {part.act: set() for part in SLICES} | {
    act: {purpose for part in SLICES if part.act == act for purpose in part.purposes} for act in ACTS
}


def core_answer(row: Row) -> tuple[bool, str]:
    answer = decide(read_facts(row))
    return answer.may, str(answer.code)


@pytest.mark.parametrize("part", SLICES, ids=lambda part: part.name)
def test_on_every_combination(part: Slice) -> None:
    assert part.size <= MOST_ROWS
    for row in part.rows():
        assert core_answer(row) == contract_table.answer(row), row


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize("purpose", NO_SUCH_PURPOSE)
def test_a_purpose_that_does_not_exist_is_never_allowed(act: str, purpose: str) -> None:
    for role in (None, *ROLES):
        row = {"act": act, "purpose": purpose} | ({"by": role} if role else {})
        assert core_answer(row) == (False, "NEVER") == contract_table.answer(row)


@pytest.mark.parametrize("part", SLICES, ids=lambda part: part.name)
def test_every_pair_of_facts_occurs(part: Slice) -> None:
    """What is not walked through whole is at least met with each value of each other fact."""
    seen = {pair: set() for pair in itertools.product(part.drawn, part.domains) if len(set(pair)) == 2}
    expected = {
        (one, other): len(set(map(repr, part.domains[one]))) * len(set(map(repr, part.domains[other])))
        for one, other in seen
    }
    for chosen in part.choices(-(-part.size // 50_000)):
        for one, other in list(seen):
            pairs = seen[one, other]
            pairs.add((repr(chosen[one]), repr(chosen[other])))
            if len(pairs) == expected[one, other]:
                del seen[one, other]
        if not seen:
            return
    assert not seen


def test_every_code_is_given_somewhere() -> None:
    """So no rule of either side stands for nothing."""
    given = {"NEVER"} | {core_answer(row)[1] for part in SLICES for row in part.rows()}
    assert given == {str(code) for code in Code}


def test_the_same_codes_allow() -> None:
    assert {str(code) for code in ALLOWING_CODES} == contract_table.MAY


def test_on_random_facts() -> None:
    source = random.Random("permissions")
    codes: Counter[str] = Counter()
    for number in range(examples(1_000_000, one_in=200)):
        row = random_row(source)
        expected = contract_table.answer(contract_table.plain(row))
        read = read_row(json.dumps({"id": str(number)} | row).encode())
        answer = decide(read.facts)
        assert (read.id, answer.may, str(answer.code)) == (str(number), *expected), row
        codes[expected[1]] += 1
    assert len(codes) >= 55, codes


def random_row(source: random.Random) -> Row:
    """Any facts without a fault, plain and dated, most left out; roles that may speak or read come up oftener."""
    act = source.choice(ACTS)
    purposes = sorted(PURPOSES[act] - {None}) or ["health", "plan", "backup"]
    row: Row = {"act": act, "purpose": source.choice(purposes if source.random() < 0.99 else NO_SUCH_PURPOSE)}
    for fact, values in EVERY_FACT.items():
        if source.random() < 0.25 and fact not in ("by", "ages", "first", "second"):
            row[fact] = source.choice(values)
    row["by"] = source.choice(ROLES if source.random() < 0.5 else LIKELY_ROLES.get(act, ROLES))
    row.setdefault("days_kept", source.randrange(1200))
    row["guardians"] = [_with_gaps(_person(source), source) for _ in range(source.choice((0, 1, 1, 2, 3)))]
    row["digital_age"] = source.choice(AGES)[1]
    if source.random() < 0.3:
        _make_dated(row, source)
    elif source.random() < 0.9:
        row["age"] = source.choice((None, *range(8, 21)))
    return row


SPEAKERS = ("athlete", "guardian", "admin")
LIKELY_ROLES = {
    "use": ("coach", "coach_other", "athlete", "guardian", "head_coach", "emergency_access"),
    "withhold": ("welfare",),
} | dict.fromkeys(("answer", "withdraw", "export", "erase"), SPEAKERS)


def _person(source: random.Random) -> Row:
    """With authority more often than not."""
    person = source.choice(PERSONS)
    return person if source.random() < 0.5 else person | {"authority": "full"}


def _with_gaps(person: Row, source: random.Random) -> Row:
    return {field: value for field, value in person.items() if source.random() < 0.9}


def _make_dated(row: Row, source: random.Random) -> None:
    """Birthdays near the days that count, in zones on both sides of the world."""
    for plain in ("hour", "age", "expired", "days_since_digital_age", "turned_18_since_answer"):
        row.pop(plain, None)
    today = date(2024, 2, 27) + timedelta(days=source.randrange(800))
    row["now"] = f"{today}T{source.randrange(24):02}:{source.choice(('00:00', '59:59'))}{source.choice(OFFSETS)}"
    row["zone"] = source.choice(ZONES)
    row["born"] = source.choice((None, _near_birthday(today, source), "2008-02-29", "2012-02-29"))
    if source.random() < 0.8:
        row["answered"] = source.choice((None, str(today - timedelta(days=source.randrange(1200)))))
    if source.random() < 0.3:
        row["until"] = source.choice((row["now"], f"{today}T12:00:00Z"))


OFFSETS = ("Z", "+02:00", "-05:00", "+13:00")
ZONES = ("UTC", "Europe/Berlin", "America/New_York", "Pacific/Auckland", "Pacific/Kiritimati")


def _near_birthday(today: date, source: random.Random) -> str:
    shifted = today - timedelta(days=source.choice((-1, 0, 1, 2, 89, 90, 91, 92)))
    day = shifted.replace(day=min(shifted.day, 28))
    return str(day.replace(year=day.year - source.choice((12, 13, 15, 16, 17, 18, 19))))


READ: dict[str, set[str]] = {act: {fact for part in SLICES if part.act == act for fact in part.whole} for act in ACTS}
FIELDS = [field.name for field in fields(Facts)]


class Watched(Facts):
    """Facts that note which of them are looked at; what is never looked at cannot change the answer."""

    looked_at: ClassVar[set[str]] = set()

    def __getattribute__(self, name: str) -> Any:
        Watched.looked_at.add(name)
        return super().__getattribute__(name)


class FirstAlone(tuple[Guardian, ...]):
    """Guardians of whom nobody may look at more than whether there are any, and at the first."""

    def __iter__(self) -> Iterator[Guardian]:
        raise AssertionError("the others were looked at")

    def __getitem__(self, place: Any) -> Any:
        assert place == 0, "the others were looked at"
        return super().__getitem__(0)


@pytest.mark.parametrize("part", [part for part in SLICES if part.act != "use"], ids=lambda part: part.name)
def test_facts_that_an_act_does_not_read_change_nothing(part: Slice) -> None:
    """Save in use, where the purpose and the role decide what is read."""
    unread = {field for fact in EVERY_FACT if fact not in READ[part.act] for field in COMPOSED.get(fact, (fact,))}
    if "first" in READ[part.act]:
        unread.discard("guardians")
    assert len(unread) > 20
    for row in part.rows():
        facts = read_facts(row)
        known = {name: getattr(facts, name) for name in FIELDS}
        if "second" not in READ[part.act]:
            known["guardians"] = FirstAlone(facts.guardians)
        watched = Watched(**known)
        Watched.looked_at.clear()
        assert decide(watched) == decide(facts)
        assert Watched.looked_at.isdisjoint(unread), (row, Watched.looked_at & unread)


def test_a_fact_that_is_read_is_noted() -> None:
    """Else the test above could not fail."""
    watched = Watched(act=Act.WITHHOLD, by=Role.WELFARE, guardians=FirstAlone((Guardian(), Guardian())))
    Watched.looked_at.clear()
    decide(watched)
    assert {"by", "own_case", "age"} <= Watched.looked_at
    with pytest.raises(AssertionError, match="the others"):
        assert watched.full_guardian_stops
