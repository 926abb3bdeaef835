"""Age groups by a dated rule: on a day everybody moves to the squad of their age, counted on another day.

Counted on 31 December it is a rule by year of birth; counted on the day of the move it is one by age (common practice:
which of the two holds, and on which day, says the club's sport body).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from athletes.core.ages import age_on

EVERYBODY_OLDER = 99
"""The bound of the oldest squad: everybody who is in none of the younger ones."""


@dataclass(frozen=True, slots=True)
class AgeSquad:
    """A squad of those who are under an age."""

    id: str
    under: int


@dataclass(frozen=True, slots=True)
class Placed:
    """An athlete as they stand on the day of the move: born when, in which squad if any."""

    id: str
    born: date | None
    squad: str | None


@dataclass(frozen=True, slots=True)
class SquadMove:
    """One athlete who moves; `before` is nothing for who was in no squad."""

    athlete: str
    before: str | None
    after: str


@dataclass(frozen=True, slots=True)
class RollOver:
    """Who moves, and of whom that cannot be said: no birth date, or older than every squad."""

    moves: tuple[SquadMove, ...]
    without_birth_date: tuple[str, ...]
    without_squad: tuple[str, ...]


def squad_at(born: date, counted_on: date, squads: Sequence[AgeSquad]) -> str | None:
    """The squad with the lowest bound that somebody is still under on the day on which age is counted."""
    age = age_on(born, counted_on)
    fitting = sorted((one.under, one.id) for one in squads if age < one.under)
    return fitting[0][1] if fitting else None


def roll_over(athletes: Iterable[Placed], *, squads: Sequence[AgeSquad], counted_on: date) -> RollOver:
    """Who moves to another squad. Whoever is in a squad that is no age group stays; nothing is guessed of whoever has
    no birth date. Applied, the same rule moves nobody."""
    known: Mapping[str, AgeSquad] = {one.id: one for one in squads}
    moves, undated, unfit = [], [], []
    for one in athletes:
        if one.squad is not None and one.squad not in known:
            continue
        if one.born is None:
            undated.append(one.id)
            continue
        after = squad_at(one.born, counted_on, squads)
        if after is None:
            unfit.append(one.id)
        elif after != one.squad:
            moves.append(SquadMove(one.id, one.squad, after))
    return RollOver(tuple(moves), tuple(undated), tuple(unfit))
