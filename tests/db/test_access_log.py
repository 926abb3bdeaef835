"""The access log: chained, written with the act, and never changed."""

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from athletes.log_guard import TABLE, drop_guard, set_guard
from athletes.models import AccessLogEntry
from athletes.services.access_log import Act, log_acts
from athletes.viewer import viewer_for


@pytest.fixture
def logged(scene):
    viewer = viewer_for(scene.coach, "coach")
    with transaction.atomic():
        log_acts(viewer=viewer, acts=[Act("read", "health", scene.athlete.pk, ("place",), "CONSENT_OK")] * 3)
    return scene


def test_lines_are_chained_and_hold_no_name(logged):
    first, second, third = AccessLogEntry.objects.filter(club=logged.club).order_by("seq")
    assert (second.prev_hash, third.prev_hash) == (first.hash, second.hash)
    assert logged.athlete.given_name not in str(first.__dict__)
    assert str(logged.athlete.pk) not in str(first.__dict__)


def test_a_rolled_back_act_leaves_no_line(scene):
    viewer = viewer_for(scene.coach, "coach")
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        log_acts(viewer=viewer, acts=[Act("write", "entry")])
        _ = 1 / 0
    assert not AccessLogEntry.objects.filter(club=scene.club).exists()


@pytest.mark.parametrize(
    "change",
    [
        f"UPDATE {TABLE} SET verb = 'write' WHERE seq = 2",
        f"DELETE FROM {TABLE} WHERE seq = 2",
        f"DELETE FROM {TABLE}",
    ],
)
def test_the_database_refuses_changes(logged, change):
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(change)
    assert AccessLogEntry.objects.filter(club=logged.club, verb="read").count() == 3


def test_the_database_refuses_insert_over_existing(logged):
    if connection.vendor == "postgresql":
        over = f"TRUNCATE {TABLE} CASCADE"
    else:
        over = f"INSERT OR REPLACE INTO {TABLE} SELECT * FROM {TABLE} WHERE seq = 2"
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(over)
    assert AccessLogEntry.objects.filter(club=logged.club).count() == 3


def tampered(statement: str) -> None:
    connection.check_constraints()  # what waits for the commit would keep PostgreSQL from lifting a trigger
    drop_guard(connection)
    with connection.cursor() as cursor:
        cursor.execute(statement)
    connection.check_constraints()
    set_guard(connection)


def test_verify_finds_a_whole_chain(logged, capsys):
    call_command("verify_access_log")
    assert "whole" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("statement", "place"),
    [
        (f"UPDATE {TABLE} SET code = 'X' WHERE seq = 2", 2),
        (f"DELETE FROM {TABLE} WHERE seq = 2", 2),
        (f"DELETE FROM {TABLE} WHERE seq = 3", 3),
    ],
)
def test_verify_names_the_first_bad_entry(logged, capsys, statement, place):
    tampered(statement)
    with pytest.raises(CommandError) as refused:
        call_command("verify_access_log")
    assert refused.value.returncode == 1
    assert f"entry {place}" in str(refused.value)
