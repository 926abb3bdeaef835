"""Measures the exchange of entries against bare inserts with the same durability.

Run it by `python -m tests.bench.bench_entries`: on SQLite (WAL, synchronous FULL), with DATABASE_URL on PostgreSQL. The
bare insert is one INSERT of the same row and a commit on a connection that stays open; the request is the whole of it,
through the WSGI application.
"""

import io
import json
import statistics
import threading
import time
from collections.abc import Callable
from itertools import count
from typing import Any

from django.core.wsgi import get_wsgi_application
from django.db import connection, transaction
from django.test import Client
from django.test.utils import setup_databases, teardown_databases

import tests.bench.with_django  # noqa: F401
from athletes.viewer import viewer_for
from sessions.access import get_part
from sessions.models import Entry, TrainingSession
from sessions.services.record_entries import record_entries
from teamtrack.common.clock import utc_now
from tests.api.entry_posts import entry, new_id
from tests.people import Scene, make_athlete, make_scene, make_session

ROUNDS, BATCHES, BATCH = 300, 15, 500
PHONES, POSTS_A_PHONE = 8, 40


def main() -> None:
    """Print one table."""
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        print(f"{connection.vendor}, {connection.Database.__name__}; medians of {ROUNDS} and of {BATCHES} batches")
        report(make_scene())
    finally:
        teardown_databases(databases, verbosity=0)


def report(scene: Scene) -> None:
    athletes = [make_athlete(scene.club, f"Runner{number}", scene.group, account=False) for number in range(40)]
    for athlete in athletes:
        scene.training_session.session_athletes.create(club=scene.club, athlete=athlete)
    post = poster(scene)
    part = get_part(viewer_for(scene.coach), scene.training_session.pk)

    def cues(number: int) -> list[dict[str, Any]]:
        return [entry("cue", athletes[place % 40], scene.training_session, stride=1) for place in range(number)]

    def write(entries: list[dict[str, Any]]) -> None:
        record_entries(part=part, posted=entries)

    beside, seqs = make_session(scene.group), count(1)
    for number, rounds in ((1, ROUNDS), (BATCH, BATCHES)):
        rows = [[bare_row(scene, beside, next(seqs)) for _ in range(number)] for _ in range(rounds)]
        sent = [[cues(number) for _ in range(rounds)] for _ in range(2)]
        bare_s, write_s, request_s = medians_s([(bare_insert, rows), (write, sent[0]), (post, sent[1])])
        print(f"{number:4} entries: bare {bare_s * 1e3:8.2f} ms", end="")
        print(f" | write service {write_s * 1e3:8.2f} ms = {write_s / bare_s:5.1f} x", end="")
        print(f" | whole request {request_s * 1e3:8.2f} ms = {request_s / bare_s:5.1f} x")
    at_once(scene, cues)


def bare_row(scene: Scene, beside: TrainingSession, seq: int) -> tuple[str, list[object]]:
    """The statement and values of one row, made beforehand."""
    row = Entry(
        id=new_id(),
        club=scene.club,
        training_session=beside,
        seq=seq,
        kind="cue",
        athlete=scene.athlete,
        stride=1,
        at="2027-03-09T17:04:05.123Z",
        device="phone-0001",
        by=scene.coach,
        received_at=utc_now(),
        content={"feature": "tall_hips", "words": "Grow taller", "how": "told", "understood": "yes"},
    )
    fields = Entry._meta.concrete_fields
    columns = ", ".join(f'"{field.column}"' for field in fields)
    places = ", ".join(["%s"] * len(fields))
    values = [field.get_db_prep_save(field.pre_save(row, True), connection) for field in fields]
    return f'INSERT INTO "{Entry._meta.db_table}" ({columns}) VALUES ({places})', values


def bare_insert(rows: list[tuple[str, list[object]]]) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        if len(rows) == 1:
            cursor.execute(*rows[0])
        else:
            cursor.executemany(rows[0][0], [values for _, values in rows])


def medians_s(works: list[tuple[Callable[[Any], object], list[Any]]]) -> list[float]:
    """The median time of each work over what it is given, in turn; the first tenth warms up."""
    times: list[list[float]] = [[] for _ in works]
    for round_of in zip(*(given for _, given in works), strict=True):
        for (work, _), one, seconds in zip(works, round_of, times, strict=True):
            start = time.perf_counter()
            work(one)
            seconds.append(time.perf_counter() - start)
    return [statistics.median(seconds[len(seconds) // 10 :]) for seconds in times]


def poster(scene: Scene) -> Callable[[list[dict[str, Any]]], None]:
    """A signed-in phone that sends its requests straight to the WSGI application."""
    client = Client(SERVER_NAME="localhost")
    client.force_login(scene.coach.account)
    client.get("/api/v1/sign-in")
    cookies = "; ".join(f"{name}={morsel.value}" for name, morsel in client.cookies.items())
    token, application = client.cookies["csrftoken"].value, get_wsgi_application()

    def post(entries: list[dict[str, Any]]) -> None:
        body = json.dumps({"as": str(scene.coach.pk), "entries": entries}).encode()
        environ = {
            "REQUEST_METHOD": "POST",
            "PATH_INFO": f"/api/v1/sessions/{scene.training_session.pk}/entries",
            "SERVER_NAME": "localhost",
            "SERVER_PORT": "80",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "CONTENT_TYPE": "application/json",
            "CONTENT_LENGTH": str(len(body)),
            "HTTP_COOKIE": cookies,
            "HTTP_X_CSRFTOKEN": token,
            "wsgi.input": io.BytesIO(body),
            "wsgi.errors": io.StringIO(),
            "wsgi.url_scheme": "http",
        }
        status: list[str] = []
        response = application(environ, lambda line, headers, *_: status.append(line))
        content = b"".join(response)
        response.close()  # type: ignore[attr-defined]
        answers = json.loads(content)["answers"] if status == ["200 OK"] else content
        if [one["answer"] for one in answers] != ["accepted"] * len(entries):
            raise RuntimeError(f"{status}: {content[:300]!r}")

    return post


def at_once(scene: Scene, cues: Callable[[int], list[dict[str, Any]]]) -> None:
    """Eight phones that post one entry after the other, all at the same time."""
    times: list[float] = []
    sent = [[cues(1) for _ in range(POSTS_A_PHONE)] for _ in range(PHONES)]
    posts = [poster(scene) for _ in range(PHONES)]

    def run(place: int) -> None:
        for one in sent[place]:
            start = time.perf_counter()
            posts[place](one)
            times.append(time.perf_counter() - start)
        connection.close()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(PHONES)]
    start = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    whole_s, times = time.perf_counter() - start, sorted(times)
    p95_s = times[int(len(times) * 0.95)]
    print(f"{PHONES} phones at once: {len(times) / whole_s:.0f} entries a second, p95 {p95_s * 1e3:.0f} ms", end="")
    print(f" ({len(times)} of {PHONES * POSTS_A_PHONE} posts)")


if __name__ == "__main__":
    main()
