"""Limits on wrong tries hold over processes: of many tries at once none slips through."""

import threading

import pytest
from django.db import connection

from athletes.core.tries import Limit
from athletes.models import Tries
from athletes.services.tries import Wait, counted, forget, key_of

FEW = Limit(5, 3600, 20)


def try_once(key, *, is_right=False):
    with counted({key: FEW}) as one:
        one.was_right = is_right


@pytest.mark.django_db(transaction=True)
def test_of_tries_at_once_no_more_than_the_limit_are_looked_at():
    """Threads with a connection of their own stand for processes: the row is the only thing they share."""
    key, looked_at, barrier = key_of("name", "x"), [], threading.Barrier(8)

    def try_some():
        barrier.wait()
        for _ in range(3):
            try:
                with counted({key: FEW}):
                    looked_at.append(1)
            except Wait:
                pass
        connection.close()

    threads = [threading.Thread(target=try_some) for _ in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(looked_at) == FEW.most
    assert len(Tries.objects.get().failed_at) == FEW.most


def test_a_right_try_counts_for_nothing_and_a_broken_one_counts(db):
    key = key_of("name", "x")
    for _ in range(3 * FEW.most):
        try_once(key, is_right=True)
    with pytest.raises(RuntimeError), counted({key: FEW}):
        raise RuntimeError
    assert len(Tries.objects.get().failed_at) == 1
    for _ in range(FEW.most - 1):
        try_once(key)
    with pytest.raises(Wait) as wait:
        try_once(key, is_right=True)
    assert 895 <= wait.value.wait_s <= 900
    forget(key)
    try_once(key, is_right=True)


def test_keys_tell_neither_name_nor_place():
    assert key_of("name", "noela") != key_of("place", "noela") != key_of("name", "noelb")
    assert "noela" not in key_of("name", "noela")
