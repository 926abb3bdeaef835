"""Phones that send at the same moment: nothing is lost, doubled or seen out of order."""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client

from athletes.models import AccessLogEntry
from athletes.viewer import viewer_for
from sessions.access import get_part
from sessions.models import Entry, TrainingSession
from sessions.services.record_entries import record_entries
from teamtrack.common.models import Job
from tests.api.entry_posts import Phone, codes, entry
from tests.people import Scene, answer, make_scene

pytestmark = pytest.mark.django_db(transaction=True)
WAIT_S = 180


@pytest.fixture
def scene(transactional_db: None) -> Scene:
    return make_scene()


def at_once(*works: Callable[[], Any]) -> list[Any]:
    """Run works in threads that start together, each with a connection of its own; their results in order."""
    results: list[Any] = [None] * len(works)
    start = threading.Barrier(len(works))

    def run(place: int) -> None:
        try:
            start.wait(WAIT_S)
            results[place] = works[place]()
        except BaseException as fault:
            results[place] = fault
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(works))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(WAIT_S)
    for result in results:
        if isinstance(result, BaseException):
            raise result
    return results


def phones(scene: Scene, number: int) -> list[Phone]:
    found = []
    for place in range(number):
        coach = (scene.coach, scene.second_coach)[place % 2]
        client = Client()
        client.force_login(coach.account)
        found.append(Phone(client, coach, scene.training_session))
    return found


def test_eight_phones_post_the_same_and_their_own(scene: Scene) -> None:
    shared = [entry("cue", scene.athlete, scene.training_session) for _ in range(5)]
    own = [[entry("run", scene.child, scene.training_session) for _ in range(5)] for _ in range(8)]
    posts = [
        lambda phone=phone, mine=mine: phone.post(*mine[:2], *shared, *mine[2:])
        for phone, mine in zip(phones(scene, 8), own, strict=True)
    ]
    answers = at_once(*posts)
    assert [codes(one)[:2] + codes(one)[7:] for one in answers] == [["accepted"] * 5] * 8
    for place in range(2, 7):
        assert sorted(codes([one[place] for one in answers])) == ["accepted", *["known"] * 7]
        assert len({one[place]["seq"] for one in answers}) == 1
    rows = list(Entry.objects.order_by("seq").values_list("seq", flat=True))
    assert rows == sorted(set(rows))
    assert len(rows) == 45
    for one in answers:
        fresh = [answer["seq"] for answer in one if answer["answer"] == "accepted"]
        assert fresh == sorted(fresh)


def test_who_asks_what_came_after_never_misses_one(scene: Scene) -> None:
    """A reader goes on from `next` while six phones post; in the end it holds all, each once."""
    done = threading.Event()
    *writers, reader = phones(scene, 7)
    sent = [[entry("run", scene.athlete, scene.training_session) for _ in range(12)] for _ in writers]

    def write(phone: Phone, entries: list[dict[str, Any]]) -> None:
        for one in entries:
            phone.post(one)

    def read() -> list[str]:
        after, got = 0, []
        while True:
            is_last = done.is_set()
            page = reader.get(after=after, limit=7)
            got += [one["id"] for one in page["items"]]
            after = page["next"]
            if is_last and not page["more"]:
                return got

    def write_all() -> None:
        try:
            at_once(*(lambda p=p, e=e: write(p, e) for p, e in zip(writers, sent, strict=True)))
        finally:
            done.set()

    got, _ = at_once(read, write_all)
    assert sorted(got) == sorted(one["id"] for entries in sent for one in entries)


def test_a_transaction_that_ends_before_its_commit_leaves_nothing(scene: Scene) -> None:
    answer(scene.athlete, scene.athlete, names=(scene.coach,))
    answer(scene.athlete, scene.guardian, names=(scene.coach,))
    lines = AccessLogEntry.objects.count()
    part = get_part(viewer_for(scene.coach), scene.training_session.pk)
    sent = [entry(kind, scene.athlete, scene.training_session) for kind in ("stop", "pain")]
    with pytest.raises(KeyboardInterrupt), transaction.atomic():
        record_entries(part=part, posted=sent)
        raise KeyboardInterrupt
    assert (Entry.objects.count(), Job.objects.count(), AccessLogEntry.objects.count()) == (0, 0, lines)
    scene.training_session.refresh_from_db()
    assert scene.training_session.last_seq == 0
    assert [taken.seq for taken in record_entries(part=part, posted=sent)] == [1, 2]
    assert (Entry.objects.count(), Job.objects.count()) == (2, 1)


def test_the_same_entry_by_two_phones_is_noted_and_logged_once(scene: Scene) -> None:
    answer(scene.athlete, scene.athlete, names=(scene.coach, scene.second_coach))
    answer(scene.athlete, scene.guardian, names=(scene.coach, scene.second_coach))
    lines = AccessLogEntry.objects.count()
    pain = entry("pain", scene.athlete, scene.training_session)
    answers = at_once(*(lambda phone=phone: phone.post(pain) for phone in phones(scene, 4)))
    assert sorted(codes([one for [one] in answers])) == ["accepted", "known", "known", "known"]
    assert (Job.objects.count(), AccessLogEntry.objects.count()) == (1, lines + 1)


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has one writer at a time")
def test_another_phone_sends_the_same_twice_while_a_batch_is_written(scene: Scene) -> None:
    """The second try of a batch would meet the next entry of the other phone, were it not alone then."""
    first, other = phones(scene, 2)
    shared = [entry("cue", scene.athlete, scene.training_session) for _ in range(2)]
    told: list[Any] = []

    def other_sends(execute: Any, statement: str, *rest: Any) -> Any:
        if statement.startswith(f'UPDATE "{TrainingSession._meta.db_table}"') and len(told) < len(shared):
            told.extend(at_once(send_one))
        return execute(statement, *rest)

    def send_one() -> Any:
        return codes(other.post(shared[len(told)]))

    def send_all() -> Any:
        with connection.execute_wrapper(other_sends):
            return first.post(*shared)

    [answers] = at_once(send_all)
    assert (codes(answers), told) == (["known", "known"], [["accepted"], ["accepted"]])
    assert Entry.objects.count() == len(shared)


def test_a_locked_database_is_busy_and_the_same_is_taken_afterwards(scene: Scene) -> None:
    """Somebody else holds the session's counter (on SQLite: the whole database) longer than anybody waits."""
    [phone] = phones(scene, 1)
    sent = {"as": str(phone.person.pk), "entries": [entry("run", scene.athlete, scene.training_session)]}
    is_held, may_end = threading.Event(), threading.Event()

    def hold() -> None:
        with transaction.atomic():
            TrainingSession.objects.filter(pk=scene.training_session.pk).update(change_words="held")
            is_held.set()
            may_end.wait(WAIT_S)

    def post() -> Any:
        is_held.wait(WAIT_S)
        with connection.cursor() as cursor:
            is_sqlite = connection.vendor == "sqlite"
            cursor.execute("PRAGMA busy_timeout = 200" if is_sqlite else "SET lock_timeout = '200ms'")
        response = phone.send(sent)
        may_end.set()
        return response

    response, _ = at_once(post, hold)
    assert (response.status_code, response.json()["code"]) == (503, "BUSY")
    assert int(response["Retry-After"]) >= 1
    assert codes(phone.send(sent).json()["answers"]) == ["accepted"]
