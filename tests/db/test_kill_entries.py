"""A server killed at any moment loses nothing that it acknowledged and keeps nothing twice."""

import random
import threading
import time
from collections.abc import Iterator
from http.client import HTTPException
from pathlib import Path
from typing import Any

import pytest

from sessions.core.entries.counting import Link, counting
from tests.db.killed_server import Database, Sender, Server, invented_entries, own_database
from tests.sizes import examples

KILLS, KILLS_A_PIECE, ENTRIES = examples(200), 40, 12


@pytest.fixture
def database() -> Iterator[Database | None]:
    with own_database() as made:
        yield made


@pytest.fixture
def server(tmp_path: Path, database: Database | None) -> Iterator[Server]:
    server = Server(tmp_path, database)
    yield server
    server.kill()


def senders_of(server: Server, dice: random.Random) -> tuple[list[Sender], dict[str, Any]]:
    facts = server.prepare()
    senders = [
        Sender(
            server,
            coach["username"],
            facts["password"],
            coach["person"],
            facts["session"],
            random.Random(dice.getrandbits(64)),
        )
        for coach in facts["coaches"]
    ]
    return senders, facts


def work_until(sender: Sender, over: threading.Event, faults: list[BaseException]) -> None:
    """Send and fetch until it is over; a cut is no fault, whatever else goes wrong is."""
    while not over.is_set():
        try:
            if sender.waiting:
                sender.send()
            sender.fetch()
        except (OSError, HTTPException):
            sender.cuts += 1
            time.sleep(0.02)
        except BaseException as fault:
            faults.append(fault)
            return


def finish(sender: Sender) -> None:
    while sender.waiting:
        sender.send()


@pytest.mark.parametrize("first", range(0, KILLS, KILLS_A_PIECE))
def test_killed_at_any_moment(server: Server, first: int) -> None:
    """All kills in pieces of a few minutes, each on a server of its own."""
    dice = random.Random(20270309 + first)
    senders, facts = senders_of(server, dice)
    server.start()
    for sender in senders:
        sender.sign_in()
    made: list[dict[str, Any]] = []
    for _ in range(min(KILLS_A_PIECE, KILLS - first)):
        for sender in senders:
            new = list(invented_entries(sender, facts["athletes"], ENTRIES))
            made += new
            sender.waiting += new
        over, faults = threading.Event(), list[BaseException]()
        threads = [threading.Thread(target=work_until, args=(sender, over, faults)) for sender in senders]
        for thread in threads:
            thread.start()
        time.sleep(dice.uniform(0.0, 0.4))
        if server.database and dice.random() < 0.5:
            server.database.cut_connections()
            time.sleep(dice.uniform(0.0, 0.2))
        server.kill()
        over.set()
        for thread in threads:
            thread.join()
        assert faults == []
        server.start()
    for sender in senders:
        finish(sender)
    assert sum(sender.cuts for sender in senders) > 0
    check_that_all_agree(senders, made)


def check_that_all_agree(senders: list[Sender], made: list[dict[str, Any]]) -> None:
    for sender in senders:
        while sender.fetch():
            pass
    first, second = senders
    assert first.fetched == second.fetched
    seqs = [item["seq"] for item in first.fetched]
    assert seqs == sorted(set(seqs))
    kept = {item["id"]: item for item in first.fetched}
    assert sorted(item["id"] for item in first.fetched) == sorted(entry["id"] for entry in made)
    for entry in made:
        assert {key: kept[entry["id"]][key] for key in entry} == entry
    for sender in senders:
        assert {entry_id: answer["seq"] for entry_id, answer in sender.answers.items()} == {
            entry_id: kept[entry_id]["seq"] for entry_id in sender.answers
        }
    links = [
        Link(item["id"], item["kind"], item["athlete"], item["by"], item["replaces"], item["withdrawn"])
        for item in first.fetched
    ]
    expected = counting(links)
    status, found = first.ask("GET", first.address + "/counting")
    assert (status, found["ids"]) == (200, list(expected.ids))
    assert found["beside"] == [list(group) for group in expected.beside]
    assert found["seq"] == seqs[-1]


def test_the_notice_about_pain_is_noted_once_for_each_that_is_kept(server: Server) -> None:
    senders, facts = senders_of(server, random.Random(1))
    sender = senders[0]
    server.start()
    sender.sign_in()
    for _ in range(3):
        sender.waiting += list(invented_entries(sender, facts["athletes"], 10))
        over, faults = threading.Event(), list[BaseException]()
        thread = threading.Thread(target=work_until, args=(sender, over, faults))
        thread.start()
        time.sleep(0.2)
        server.kill()
        over.set()
        thread.join()
        assert faults == []
        server.start()
    finish(sender)
    while sender.fetch():
        pass
    pains = sum(item["kind"] == "pain" for item in sender.fetched)
    count = "import django; django.setup(); from teamtrack.common.models import Job; print(Job.objects.count())"
    assert int(server.run("-c", count)) == pains > 0
