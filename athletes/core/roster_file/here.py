"""What the club has already, as a roster file is compared with it."""

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from athletes.core.roster_file.names import folded, joined, number_of


@dataclass(frozen=True)
class KnownGuardian:
    """Somebody who is a guardian here, or works here and may be one."""

    id: UUID
    given: str
    family: str
    phone: str = ""
    email: str = ""

    @property
    def name(self) -> str:
        return f"{self.given} {self.family}".strip()


@dataclass(frozen=True)
class KnownRing:
    """A number to ring that is here."""

    id: UUID
    name: str
    relation: str
    phone: str
    may_collect: bool = False


@dataclass(frozen=True)
class Known:
    """An athlete who is here, or was: `since` and `until` are the days of the newest membership. Whoever is on trial
    may join once a day of the trial has gone by (`may_join`)."""

    id: UUID
    given: str
    family: str
    born: date | None = None
    email: str = ""
    phone: str = ""
    country: str = ""
    squad: str = ""
    groups: tuple[str, ...] = ()
    since: date | None = None
    is_member: bool = True
    guardians: tuple[KnownGuardian, ...] = ()
    rings: tuple[KnownRing, ...] = ()
    until: date | None = None
    is_trial: bool = False
    may_join: bool = False

    @property
    def name(self) -> str:
        return f"{self.given} {self.family}".strip()


@dataclass(frozen=True)
class Here:
    """Athletes, people who may be guardians, and the names of squads and event groups."""

    athletes: tuple[Known, ...] = ()
    adults: tuple[KnownGuardian, ...] = ()
    squads: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()


def same_name(one: str, other: str) -> bool:
    """Whether two whole names are spelled alike but for case, accents and signs; given and family in either order."""
    return joined(one) == joined(other) or sorted(folded(one).split()) == sorted(folded(other).split())


def same_number(one: str, other: str) -> bool:
    return bool(one) and number_of(one) == number_of(other)


def same_address(one: str, other: str) -> bool:
    return bool(one) and one.casefold() == other.casefold()
