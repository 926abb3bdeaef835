"""The random schedules of the core's tests once more, with the real exchange and its database as the server."""

import random
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client

from tests.api.entry_posts import Phone, away_after
from tests.core.entries.exchange import Device, Reply, Wire, counted
from tests.core.entries.invented import run_schedule
from tests.people import Scene, make_session
from tests.sizes import examples

pytestmark = pytest.mark.django_db
PAGE = 3


class Exchange:
    """The product's own addresses, asked by people who are signed in."""

    def __init__(self, phones: dict[str, Phone], dice: random.Random) -> None:
        self.phones, self.dice, self.is_away_at_times = phones, dice, True

    def post(self, person: str, body: bytes) -> Reply:
        """At times the database is away in the midst of it: then nothing of it is kept."""
        if self.is_away_at_times and self.dice.random() < 0.1:
            with connection.execute_wrapper(away_after(self.dice.randint(0, 15))):
                response = self.phones[person].send(body)
            assert response.status_code in (200, 503)
        else:
            response = self.phones[person].send(body)
        return response.status_code, response.json()

    def get(self, person: str, after: int) -> Reply:
        response = self.phones[person].client.get(self.phones[person].address, {"after": after, "limit": PAGE})
        return response.status_code, response.json()


@pytest.mark.parametrize("number", range(examples(100)))
def test_after_the_last_fault_all_agree(scene: Scene, signed_in: Callable[..., Client], number: int) -> None:
    dice = random.Random(number)
    runners = (scene.athlete, scene.child)
    here = make_session(scene.group, coaches=(scene.coach, scene.second_coach), athletes=runners)
    people = {str(one.pk): Phone(signed_in(one), one, here) for one in (scene.coach, scene.second_coach, scene.athlete)}
    exchange = Exchange(people, dice)
    wire = Wire(exchange, dice)
    devices = [Device(person, wire) for person in (*people, str(scene.coach.pk))]
    made = run_schedule(dice, wire, devices, str(here.pk), [str(one.pk) for one in runners])
    wire.fails, exchange.is_away_at_times = 0.0, False
    wire.bring_held(len(wire.held))
    for device in dice.sample(devices, len(devices)):
        device.timer()
    assert [one for device in devices for one in device.waiting] == []
    for device in devices:
        device.timer()
        phone = people[device.person]
        assert list(device.got.values()) == phone.items()
        found, seen = phone.counting(), counted(device.got.values())
        assert (found["ids"], found["beside"]) == (list(seen.ids), [list(group) for group in seen.beside])
        assert device.sent == {entry_id: device.got[entry_id]["seq"] for entry_id in device.sent}
    kept = {one["id"]: one for one in people[str(scene.coach.pk)].items()}
    for entry_id, entries in made.items():
        stays = {device.stays[entry_id] for device in devices if entry_id in device.stays}
        assert stays <= {"conflict"} if entry_id in kept else stays == {"UNKNOWN_FEATURE"}
        assert entry_id not in kept or any(one.items() <= kept[entry_id].items() for one in entries)
