"""Several web processes on PostgreSQL, eight phones at once: nothing lost, nothing double, all seen in order."""

import os
import random
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.db.killed_server import Sender, Server, invented_entries, own_database
from tests.processes import children_of

WORKERS, PHONES, ENTRIES, WAIT_S = 3, 8, 16, 180
pytestmark = pytest.mark.skipif(not os.environ.get("DATABASE_URL"), reason="several web processes need PostgreSQL")


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    with own_database() as database:
        server = Server(tmp_path, database, workers=WORKERS)
        yield server
        server.kill()


def phones_of(server: Server, facts: dict[str, Any], number: int) -> list[Sender]:
    """Phones of the coaches in turn; each coach signs in once, for that costs more than all that is sent."""
    coaches = facts["coaches"]
    made = [
        Sender(server, one["username"], facts["password"], one["person"], facts["session"], random.Random(place))
        for place, one in enumerate((coaches * number)[:number])
    ]
    for one in made[: len(coaches)]:
        one.sign_in()
    for place, one in enumerate(made):
        one.cookies = dict(made[place % len(coaches)].cookies)
    return made


def test_eight_phones_on_three_processes(server: Server) -> None:
    """A fetcher goes on from `next` all the while: what it has seen at the end is what is there, in that order."""
    facts = server.prepare()
    server.start()
    assert server.process is not None
    assert len(children_of(server.process.pid)) == WORKERS
    *phones, fetcher, afterwards = phones_of(server, facts, PHONES + 2)
    made = []
    for one in phones:
        one.waiting = list(invented_entries(one, facts["athletes"], ENTRIES))
        made += one.waiting
    shared = list(invented_entries(fetcher, facts["athletes"], 4))
    for one in phones[::2]:  # phones of the same person send these, too
        one.waiting = shared + one.waiting
    start, over, faults = threading.Barrier(PHONES + 1), threading.Event(), list[BaseException]()

    def send_all(one: Sender) -> None:
        start.wait(WAIT_S)
        while one.waiting:
            one.send()

    def fetch_all() -> None:
        start.wait(WAIT_S)
        while not over.is_set():
            fetcher.fetch()
        while fetcher.fetch():
            pass

    def run(work: Any, *given: Any) -> None:
        try:
            work(*given)
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=run, args=(send_all, one)) for one in phones]
    fetching = threading.Thread(target=run, args=(fetch_all,))
    for thread in (*threads, fetching):
        thread.start()
    for thread in threads:
        thread.join(WAIT_S)
    over.set()
    fetching.join(WAIT_S)
    assert faults == []
    while afterwards.fetch():
        pass
    seqs = [item["seq"] for item in fetcher.fetched]
    assert seqs == sorted(set(seqs))
    assert fetcher.fetched == afterwards.fetched
    assert sorted(item["id"] for item in fetcher.fetched) == sorted(entry["id"] for entry in made + shared)
    kept = {item["id"]: item for item in fetcher.fetched}
    for entry in made + shared:
        assert {key: kept[entry["id"]][key] for key in entry} == entry
    for one in phones:
        assert all(kept[entry_id]["seq"] == answer["seq"] for entry_id, answer in one.answers.items())
