"""Random schedules of several phones and a server: after the last fault all agree, and nothing waits for ever."""

import random
from typing import Any

import pytest

from sessions.core.entries.judging import Surroundings
from sessions.core.entries.kinds import Role
from sessions.core.entries.shape import Poster
from tests.core.entries.exchange import Device, Simulated, Wire, counted
from tests.core.entries.invented import run_schedule
from tests.sizes import examples

SESSION, ATHLETES = "the-session", ["runner-1", "runner-2"]
PEOPLE = {"coach-1": Role.COACH, "coach-2": Role.COACH, "runner-1": Role.ATHLETE}
PARTS = 10


def server() -> Simulated:
    around = Surroundings(erased=set(), features={"tall_hips"}, roster=set(ATHLETES), refused={})
    return Simulated(SESSION, {person: Poster(person, role) for person, role in PEOPLE.items()}, around)


@pytest.mark.parametrize("part", range(PARTS))
def test_after_the_last_fault_all_agree(part: int) -> None:
    for number in range(examples(10_000) // PARTS):
        dice = random.Random(f"{part}-{number}")
        wire = Wire(server(), dice)
        devices = [Device(person, wire) for person in (*PEOPLE, "coach-1")]
        made = run_schedule(dice, wire, devices, SESSION, ATHLETES)
        wire.fails = 0.0
        wire.bring_held(len(wire.held))
        check_one_period(dice, devices)
        check_agreement(dice, wire.server, devices, made)  # type: ignore[arg-type]


def check_one_period(dice: random.Random, devices: list[Device]) -> None:
    """Within a period each timer fires once: nothing waits any more. At the next firing each phone has it all."""
    for device in dice.sample(devices, len(devices)):
        device.timer()
    assert [one for device in devices for one in device.waiting] == []
    for device in dice.sample(devices, len(devices)):
        device.timer()


def check_agreement(
    dice: random.Random, at: Simulated, devices: list[Device], made: dict[str, list[dict[str, Any]]]
) -> None:
    kept = {one["id"]: one for one in at.items}
    assert len(kept) == len(at.items)
    for device in devices:
        there = {key: one for key, one in kept.items() if at.may_read(device.person, one)}
        assert device.got == there
        shaken = dice.sample(list(device.got.values()), len(there))
        assert counted(shaken + shaken[:3]) == counted(there.values())
        assert all(kept[entry_id]["seq"] == seq for entry_id, seq in device.sent.items())
    for entry_id, entries in made.items():
        stays = [device.stays[entry_id] for device in devices if entry_id in device.stays]
        if entry_id in kept:
            assert any(one.items() <= kept[entry_id].items() for one in entries)
            assert stays == [] or set(stays) == {"conflict"}
        else:
            assert set(stays) == {"UNKNOWN_FEATURE"}
