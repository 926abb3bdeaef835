"""One order of locks, rows, head of the chain, pseudonyms: two acts about the same new person never stop each other."""

import threading
import time

import pytest
from django.db import connection, connections, transaction

from athletes.models import AccessLogEntry, LedgerLine, PseudonymKey
from athletes.selectors.access_log import chain_fault
from athletes.services.access_log import Act, log_acts
from athletes.services.ledger import Why, note_removed
from athletes.viewer import server_viewer

WAITS = """
SELECT count(*) FROM pg_locks JOIN pg_stat_activity AS who USING (pid)
WHERE who.datname = current_database() AND NOT granted"""


def until_somebody_waits():
    """The other thread has come as far as it can."""
    for _ in range(200):
        with connection.cursor() as cursor:
            cursor.execute(WAITS)
            if cursor.fetchone()[0]:
                return
        time.sleep(0.02)
    raise AssertionError("nobody waits: the two do not meet")


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time")
@pytest.mark.django_db(transaction=True)
def test_the_ledger_and_the_log_make_a_pseudonym_in_one_order(scene, settings, tmp_path):
    settings.ERASURE_LEDGER_FILE = tmp_path / "ledger.jsonl"
    PseudonymKey.objects.filter(person=scene.athlete).delete()
    viewer, athlete_id, is_noted, faults = server_viewer(scene.club), scene.athlete.pk, threading.Event(), []

    def logs():
        is_noted.wait(10)
        try:
            with transaction.atomic():
                log_acts(viewer=viewer, acts=[Act("read", "copy", athlete_id)])
        except Exception as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    other = threading.Thread(target=logs)
    other.start()
    with transaction.atomic():
        note_removed(club_id=scene.club.pk, what="stops", why=Why.ASKED, by_person={athlete_id: ["1"]})
        is_noted.set()
        until_somebody_waits()
        log_acts(viewer=viewer, acts=[Act("removed", "availability", athlete_id)])
    other.join(20)
    assert faults == [] and not other.is_alive()
    assert LedgerLine.objects.filter(what="stops").count() == 1
    assert AccessLogEntry.objects.filter(subject=PseudonymKey.objects.get(person=athlete_id).pseudonym).count() == 2
    assert chain_fault(club_id=scene.club.pk) is None
