"""Measures what signing in costs for a known name with a wrong password, and for a name that nobody has.

Run it by `python -m tests.bench.bench_sign_in`: on SQLite, with DATABASE_URL on PostgreSQL. Both in turn, through the
whole server in one process, with the slow hash that servers use; the two distributions are compared by the test of
Kolmogorov and Smirnov and by the area under the curve (0.5: nobody can tell them apart by time).
"""

import logging
import random
import statistics
import time

from django.db import connection
from django.test import Client, override_settings
from django.test.utils import setup_databases, teardown_databases
from scipy.stats import ks_2samp, mannwhitneyu

import tests.bench.with_django  # noqa: F401
from athletes.models import Tries
from teamtrack import settings as served
from tests.people import PASSWORD, make_scene

ROUNDS, WARM_UP = 300, 20
WRONG = "not the right words"


def main() -> None:
    logging.disable(logging.WARNING)
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        with override_settings(PASSWORD_HASHERS=served.PASSWORD_HASHERS):
            report()
    finally:
        teardown_databases(databases, verbosity=0)


def report() -> None:
    """Print the two distributions and how they differ, for pages and for the API."""
    account = make_scene().coach.account
    account.set_password(PASSWORD)
    account.save()
    names = {"known": account.username, "unknown": "nobody-" + account.username}
    for what, send in (("page", by_page), ("API", by_api)):
        times: dict[str, list[float]] = {"known": [], "unknown": []}
        for number in range(WARM_UP + ROUNDS):
            for who in random.sample(sorted(times), 2):
                Tries.objects.all().delete()
                began = time.perf_counter()
                send(names[who])
                if number >= WARM_UP:
                    times[who].append(time.perf_counter() - began)
        tell(what, times)


def by_page(username: str) -> None:
    answer = Client(SERVER_NAME="localhost").post("/sign-in", {"username": username, "password": WRONG})
    assert answer.status_code == 200


def by_api(username: str) -> None:
    words = {"username": username, "password": WRONG}
    answer = Client(SERVER_NAME="localhost").post("/api/v1/sign-in", words, "application/json")
    assert answer.status_code == 400


def tell(what: str, times: dict[str, list[float]]) -> None:
    known, unknown = times["known"], times["unknown"]
    alike = ks_2samp(known, unknown)
    area = mannwhitneyu(known, unknown).statistic / (len(known) * len(unknown))
    middle = {who: statistics.median(found) * 1e3 for who, found in times.items()}
    spread = {who: statistics.quantiles(found, n=20)[-1] * 1e3 for who, found in times.items()}
    print(f"{connection.vendor}, {what}: known {middle['known']:.1f} ms (p95 {spread['known']:.1f}),", end=" ")
    print(f"unknown {middle['unknown']:.1f} ms (p95 {spread['unknown']:.1f}); KS p {alike.pvalue:.2f}, area {area:.3f}")


if __name__ == "__main__":
    main()
