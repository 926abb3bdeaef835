"""Where the answers about one purpose of one athlete stand on a day: what the decision reads of the stored answers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Generic, TypeVar

from athletes.core import ages
from athletes.core.permissions.facts import Authority, Guardian, Purpose, Stance, Wording

Worked = TypeVar("Worked")


class once(Generic[Worked]):
    """A property worked out at its first use. Without a lock, which the library's own takes: one thread has a standing,
    and a page of many athletes makes some hundreds."""

    def __init__(self, work: Callable[[Any], Worked]) -> None:
        self.work, self.__doc__ = work, work.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, standing: Any, owner: type) -> Worked:
        found = standing.__dict__[self.name] = self.work(standing)
        return found


@dataclass(frozen=True, slots=True)
class StoredAnswer:
    """The latest answer of one giver: `day` in the club's zone, evidence 1 or 2, `until` an instant or open."""

    stance: Stance
    day: date
    evidence: int
    names_reader: bool
    wording_version: int
    until: datetime | None = None

    @property
    def is_yes(self) -> bool:
        return self.stance is Stance.YES


@dataclass(frozen=True)
class Standing:
    """The latest answers about one purpose of one athlete, as seen at one instant.

    `guardians` are (authority, answer or None) of every guardian, in a fixed order; `digital_age` in years is the one
    that holds; `born` None is unknown.
    """

    purpose: Purpose
    born: date | None
    today: date
    now: datetime
    digital_age: int
    athlete: StoredAnswer | None = None
    guardians: Sequence[tuple[Authority, StoredAnswer | None]] = ()
    last_material_version: int = 0

    @once
    def age(self) -> int | None:
        """Years, or None where the birth date is unknown."""
        return None if self.born is None else ages.age_on(self.born, self.today)

    @once
    def athlete_stance(self) -> Stance:
        """The athlete's own answer; a yes given under the digital age is assent from that birthday on."""
        if self.athlete is None:
            return Stance.NONE
        if self.athlete.is_yes and self._given_under_digital_age(self.athlete) and not self._is_under_digital_age:
            return Stance.ASSENT
        return self.athlete.stance

    @once
    def guardian_stances(self) -> tuple[Guardian, ...]:
        """Every guardian's answer and authority."""
        return tuple(
            Guardian(answer.stance if answer else Stance.NONE, authority) for authority, answer in self.guardians
        )

    @once
    def rests_on(self) -> tuple[StoredAnswer, ...]:
        """The yeses that a use rests on now: of a full guardian (the strongest), of the athlete, or of both."""
        strongest = max(self._full_yeses, key=lambda answer: (answer.names_reader, answer.evidence), default=None)
        own = self.athlete if self.athlete and self.athlete_stance is Stance.YES else None
        if self._is_under_digital_age:
            chosen = [strongest]
        elif ages.is_minor(self.age):
            chosen = [strongest, own] if self.purpose is Purpose.HEALTH or own is None else [own]
        else:
            chosen = [own or strongest]
        return tuple(answer for answer in chosen if answer is not None)

    @property
    def evidence(self) -> int:
        """The lowest level among the yeses rested on; the highest where there is none, for then nothing rests on it."""
        return min((answer.evidence for answer in self.rests_on), default=2)

    @property
    def names_reader(self) -> bool:
        """Whether each of the yeses rested on names the reader."""
        return bool(self.rests_on) and all(answer.names_reader for answer in self.rests_on)

    @property
    def is_expired(self) -> bool:
        """Whether one of the yeses rested on has run out."""
        return any(answer.until is not None and answer.until <= self.now for answer in self.rests_on)

    @property
    def wording(self) -> Wording:
        """Whether the wording changed in meaning since one of the yeses rested on."""
        old = any(answer.wording_version < self.last_material_version for answer in self.rests_on)
        return Wording.MATERIAL_CHANGE if old else Wording.SAME

    @once
    def coming_of_age(self) -> ages.ComingOfAge:
        """What birthdays since the earliest yes of a full guardian have done to it."""
        answered = min((answer.day for answer in self._full_yeses), default=None)
        return ages.coming_of_age(self.born, answered, self.digital_age, self.today)

    @once
    def _full_yeses(self) -> list[StoredAnswer]:
        return [a for authority, a in self.guardians if authority is Authority.FULL and a is not None and a.is_yes]

    @once
    def _is_under_digital_age(self) -> bool:
        return ages.counted_age(self.age) < self.digital_age

    def _given_under_digital_age(self, answer: StoredAnswer) -> bool:
        return self.born is not None and ages.age_on(self.born, answer.day) < self.digital_age


def digital_age_of(table: Mapping[str, tuple[int, bool]], countries: Sequence[str]) -> tuple[tuple[int, ...], bool]:
    """The digital ages of some countries (16 where a country is not in the table, as the regulation has it: GDPR
    Art. 8(1)), and whether one of them asks guardian and child together."""
    rows = [table.get(country, (ages.USUAL_DIGITAL_AGE, False)) for country in countries]
    return tuple(age for age, _ in rows), any(joint for _, joint in rows)
