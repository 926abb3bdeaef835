"""Which entries of a session count, and which stand beside each other: the same from any order of arrival."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sessions.core.entries.kinds import KINDS, Role


@dataclass(frozen=True, slots=True)
class Link:
    """What counting looks at in an entry; `by` is the person id of who sent it."""

    id: str
    kind: str
    athlete: str
    by: str
    replaces: str | None = None
    is_withdrawal: bool = False


@dataclass(frozen=True, slots=True)
class Counting:
    """The ids that count, sorted, and those of them that correct the same thing, each group and all groups sorted."""

    ids: tuple[str, ...]
    beside: tuple[tuple[str, ...], ...]


def counting(links: Iterable[Link]) -> Counting:
    """What counts among these entries of one session, whatever their order and however often each is given.

    An entry counts where it is no withdrawal and no other replaces it. Naming works where what is named is of the same
    kind and stands to the same hand (an athlete's own entry to that athlete, a coach's to any coach), and where the
    naming is no part of a ring; else both stand. What is named and not here has an effect from when it comes. Beside
    each other stand two or more that count and whose chains end at the same id, here or not.
    """
    here = {link.id: link for link in links}
    aims = _working_aims(here)
    replaced = set(aims.values())
    ids = sorted(link.id for link in here.values() if not link.is_withdrawal and link.id not in replaced)
    return Counting(tuple(ids), _beside(ids, aims))


def _working_aims(here: Mapping[str, Link]) -> dict[str, str]:
    """What each entry replaces, here or not, without the namings that have no effect."""
    aims = {
        link.id: link.replaces
        for link in here.values()
        if link.replaces is not None and (link.replaces not in here or _may_replace(link, here[link.replaces]))
    }
    for member in _ring_members(aims):
        del aims[member]
    return aims


def _may_replace(link: Link, named: Link) -> bool:
    if link.kind != named.kind:
        return False
    return link.by == named.by if _is_own(named) else not _is_own(link)


def _is_own(link: Link) -> bool:
    """Whether this is an athlete's own entry: of a kind that athletes post, by the one whom it is about."""
    return Role.ATHLETE in KINDS[link.kind].posted_by and link.by == link.athlete


def _ring_members(aims: Mapping[str, str]) -> set[str]:
    members: set[str] = set()
    seen: set[str] = set()
    for start in aims:
        path: dict[str, int] = {}
        at = start
        while at in aims and at not in seen:
            seen.add(at)
            path[at] = len(path)
            at = aims[at]
        if at in path:
            members.update(list(path)[path[at] :])
    return members


def _beside(ids: Iterable[str], aims: Mapping[str, str]) -> tuple[tuple[str, ...], ...]:
    ends: dict[str, str] = {}
    groups: defaultdict[str, list[str]] = defaultdict(list)
    for start in ids:
        groups[_end_of_chain(start, aims, ends)].append(start)
    return tuple(sorted(tuple(sorted(group)) for group in groups.values() if len(group) > 1))


def _end_of_chain(start: str, aims: Mapping[str, str], ends: dict[str, str]) -> str:
    path, at = [], start
    while at in aims and at not in ends:
        path.append(at)
        at = aims[at]
    end = ends.get(at, at)
    ends.update(dict.fromkeys(path, end))
    return end
