"""Random schedules: what phones record and when the wire fails, killed browsers and wrong clocks among it."""

import random
import uuid
from collections.abc import Sequence
from typing import Any

from tests.core.entries.exchange import Device, Wire


def entry_ids(dice: random.Random, number: int) -> list[str]:
    """Ids as RFC 9562, section 5.7 has them; the time in them says nothing."""
    made = [uuid.UUID(int=dice.getrandbits(128), version=4).hex for _ in range(number)]
    return [str(uuid.UUID(digits[:12] + "7" + digits[13:])) for digits in made]


def invented(
    dice: random.Random, entry_id: str, names: Sequence[str], session: str, athletes: Sequence[str], athlete: str | None
) -> dict[str, Any]:
    """One entry that may correct or withdraw any other, there or still to come, by a clock that is hours off;
    `athlete` is given where an athlete's own phone records it."""
    kind = dice.choice(["cue", "cue", "stop", "run"] if athlete is None else ["felt", "felt", "stop"])
    others = [one for one in names if one != entry_id]
    replaces = dice.choice([None, *dice.sample(others, min(2, len(others)))])
    is_withdrawal = replaces is not None and dice.random() < 0.25
    feature = "tall_hips" if dice.random() < 0.9 else "no such"
    own: dict[str, dict[str, Any]] = {
        "cue": {"feature": feature, "words": dice.choice("abc"), "how": "told", "understood": "yes"},
        "stop": {},
        "run": {"time_s": dice.choice([12, 12.0, 12.5])},
        "felt": {"effort": dice.randint(0, 10)},
    }
    return {
        "id": entry_id,
        "session": session,
        "kind": kind,
        "athlete": athlete or dice.choice(athletes),
        "at": f"20{dice.randint(10, 60)}-0{dice.randint(1, 9)}-09T{dice.randint(10, 23)}:04:05.123Z",
        "device": "phone-0001",
        "replaces": replaces,
        "withdrawn": is_withdrawal,
        **({} if is_withdrawal else own[kind]),
    }


def run_schedule(
    dice: random.Random, wire: Wire, devices: Sequence[Device], session: str, athletes: Sequence[str]
) -> dict[str, list[dict[str, Any]]]:
    """Let phones record and exchange while the wire fails; answers what was recorded, by id."""
    ids = entry_ids(dice, dice.randint(2, 14))
    made: dict[str, list[dict[str, Any]]] = {}
    wire.fails = dice.uniform(0.2, 0.9)
    for entry_id in ids:
        device = dice.choice(devices)
        own = device.person if device.person in athletes else None
        entry = invented(dice, entry_id, ids, session, athletes, own)
        made[entry_id] = [entry]
        device.record(entry)
        if dice.random() < 0.2 and own is None:
            _record_again(dice, devices, athletes, entry, made)
        for one in dice.sample(list(devices), dice.randint(0, len(devices))):
            one.timer()
        wire.bring_held(dice.randint(0, 2))
    return made


def _record_again(
    dice: random.Random,
    devices: Sequence[Device],
    athletes: Sequence[str],
    entry: dict[str, Any],
    made: dict[str, list[dict[str, Any]]],
) -> None:
    """The same id by another phone, with the same content or, as a forger would, with another."""
    again = entry if dice.random() < 0.6 else entry | {"stride": 7}
    made[entry["id"]].append(again)
    dice.choice([one for one in devices if one.person not in athletes]).record(again)
