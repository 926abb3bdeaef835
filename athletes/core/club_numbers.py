"""Which of a club's numbers of people are shown: those in which nobody can be singled out (permissions contract)."""

from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass

from athletes.core.permissions.use import FEWEST_PEOPLE, FEWEST_PEOPLE_HEALTH


@dataclass(frozen=True, slots=True)
class Shown:
    """Numbers of people, of everybody and by group; None is hidden."""

    everybody: int | None
    groups: dict[str, int | None]


def shown_number(number: int, *, about_health: bool = False) -> int | None:
    """One number alone: fewer than 5 people, 10 where health is the source, are too few; nobody, too."""
    return number if number >= (FEWEST_PEOPLE_HEALTH if about_health else FEWEST_PEOPLE) else None


def shown_numbers(groups: Mapping[str, Set[object]], others: Set[object] = frozenset()) -> Shown:
    """How many people there are in each group and in all (with `others`), those hidden that would give a few away.

    Hidden is a group of fewer than 5. Hidden too, the smaller first, is one that by subtraction from a group round it,
    or from all, leaves fewer than 5; and the smallest shown while those outside of every shown group are fewer than 5
    (complementary suppression, as official statistics do; common practice, no source).
    """
    everybody = frozenset(others).union(*groups.values())
    shown = {name for name, people in groups.items() if shown_number(len(people)) is not None}
    while (told := next(_that_tell(groups, shown, everybody), None)) is not None:
        shown.discard(told)
    numbers = {name: len(people) if name in shown else None for name, people in groups.items()}
    return Shown(shown_number(len(everybody)), numbers)


def _that_tell(groups: Mapping[str, Set[object]], shown: Set[str], everybody: frozenset[object]) -> Iterator[str]:
    """Shown groups whose number tells something of fewer than five people, the smallest first."""
    by_size = sorted(shown, key=lambda name: (len(groups[name]), name))
    for name in by_size:
        round_it = [everybody, *(groups[other] for other in by_size)]
        if any(groups[name] < other and _is_few(len(other - groups[name])) for other in round_it):
            yield name
    outside = everybody.difference(*(groups[name] for name in shown))
    if by_size and _is_few(len(outside)):
        yield by_size[0]


def _is_few(number: int) -> bool:
    return 0 < number < FEWEST_PEOPLE
