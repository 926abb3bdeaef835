"""What was chosen about a roster file: about the whole of it, and row by row; what is still open; what then is done."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from athletes.core.roster_file.compare import Change, Comparison, Difference, Examined, Outcome, with_rung_guardians
from athletes.core.roster_file.dates import Order
from athletes.core.roster_file.lines import Line
from athletes.core.roster_file.names import folded

NEW, LEAVE = "new", "leave"
FILE, HERE = "file", "here"
BACK, AWAY = "back", "away"
JOINS, STAYS = "joins", "stays"


@dataclass(frozen=True)
class Options:
    """What holds for the whole file: the order of day and month, whether guardians' numbers are rung, whether an admin
    says that everybody new was shown the notice, what is done with conflicts and with people who left that have no
    choice of their own, and which squads and groups new names mean.

    A name maps to one that is here, or to `new` (a squad) or `new:sprint` (a group with its discipline).
    """

    order: Order | None = None
    ring_guardians: bool = False
    notice_shown: bool = False
    values: str = ""
    back: str = ""
    squads: Mapping[str, str] = field(default_factory=dict)
    groups: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def read(cls, said: Mapping[str, Any]) -> "Options":
        """From JSON; what is not understood is as if it had not been said."""
        order = said.get("order")
        return cls(
            order=Order(order) if order in set(Order) else None,
            ring_guardians=bool(said.get("ring_guardians")),
            notice_shown=bool(said.get("notice_shown")),
            values=said["values"] if said.get("values") in (FILE, HERE) else "",
            back=said["back"] if said.get("back") in (BACK, AWAY) else "",
            squads=dict(said.get("squads") or {}),
            groups=dict(said.get("groups") or {}),
        )

    @property
    def read_with(self) -> dict[str, Any]:
        """As JSON, the part that decides what a file says; that a name is new decides nothing."""
        renamed = {
            kind: {name: said for name, said in names.items() if not _is_new(said)}
            for kind, names in (("squads", self.squads), ("groups", self.groups))
        }
        return {"order": str(self.order or ""), "ring_guardians": self.ring_guardians, **renamed}

    def applied_to(self, line: Line) -> Line:
        """The line with the club's own names of its squad and groups."""
        groups = dict.fromkeys(_meant(name, self.groups) for name in line.groups)
        line = replace(line, squad=_meant(line.squad, self.squads), groups=tuple(groups))
        return with_rung_guardians(line) if self.ring_guardians else line


def _meant(name: str, names: Mapping[str, str]) -> str:
    said = names.get(folded(name), NEW)
    return name if _is_new(said) else said


def _is_new(said: str) -> bool:
    return said.partition(":")[0] == NEW


@dataclass(frozen=True)
class Write:
    """One line to be done: to somebody here, or as somebody new, with the differences that are wanted."""

    line: Line
    outcome: Outcome
    differences: tuple[Difference, ...] = ()


@dataclass
class Settled:
    """The lines to be done, and the rows about which something is still open."""

    writes: list[Write] = field(default_factory=list)
    open_rows: list[int] = field(default_factory=list)

    @property
    def has_joining(self) -> bool:
        """Whether somebody becomes a member by it: whoever does is shown the club's notice first."""
        return any(
            write.outcome.known is None or any(one.what is Change.MEMBER for one in write.differences)
            for write in self.writes
        )


def settle(examined: Sequence[Examined], choices: Mapping[str, Mapping[str, str]], options: Options) -> Settled:
    """What the choices so far make of the lines; a row with something open is done by nobody."""
    found = Settled()
    for one in examined:
        choice = choices.get(str(one.line.row), {})
        outcome, is_left = _chosen(one, choice.get("who", ""), options)
        if is_left:
            continue
        if outcome is None:
            found.open_rows.append(one.line.row)
            continue
        values = choice.get("values") or options.values
        if outcome.is_conflict and values not in (FILE, HERE):
            found.open_rows.append(one.line.row)
            continue
        wanted = tuple(each for each in outcome.differences if values == FILE or not each.replaces)
        if may_join(one) and choice.get("trial") == JOINS:
            wanted += (Difference(Change.JOIN, "", ""),)
        if outcome.known is None or wanted:
            found.writes.append(Write(one.line, outcome, wanted))
    return found


def may_join(one: Examined) -> bool:
    """Whether the line is surely a visitor on trial who may join: staying on trial is what happens unasked."""
    known = one.who.known
    return known is not None and known.is_trial and known.may_join


def _chosen(one: Examined, who: str, options: Options) -> tuple[Outcome | None, bool]:
    """The outcome that holds, or that the line is left out. Whoever left comes back only by an admin's word."""
    if not one.is_asked and one.outcomes[0].is_back:
        who = who or {BACK: str(one.who.known and one.who.known.id), AWAY: LEAVE}.get(options.back, "")
    elif not one.is_asked:
        return one.outcomes[0], False
    if who == LEAVE:
        return None, True
    if who == NEW and one.is_asked:
        return Outcome(None), False
    return next((each for each in one.outcomes if each.known and str(each.known.id) == who), None), False


def open_names(comparison: Comparison, options: Options) -> Iterator[tuple[str, str]]:
    """New names of squads and groups about which nothing was said yet, each with which of the two it is."""
    for kind, names, said in (
        ("squad", comparison.new_squads, options.squads),
        ("group", comparison.new_groups, options.groups),
    ):
        for name in names:
            if folded(name) not in said:
                yield kind, name


def as_json(comparison: Comparison) -> dict[str, Any]:
    """What a page shows of a comparison, and what is compared again before it is applied."""
    counts = {"add": 0, "change": 0, "same": 0, "conflict": 0, "ask": 0, "back": 0}
    lines = []
    for one in comparison.examined:
        kind = kind_of(one)
        counts[kind] += 1
        if kind != "same" or may_join(one):
            lines.append(_line_json(one, kind))
    return {
        "counts": counts,
        "lines": lines,
        "new_squads": list(comparison.new_squads),
        "new_groups": list(comparison.new_groups),
    }


def kind_of(one: Examined) -> str:
    """add, change, same, conflict (something here would go), back (would somebody who left come back?), or ask (who is
    it?)."""
    if one.is_asked:
        return "ask"
    outcome = one.outcomes[0]
    if outcome.known is None:
        return "add"
    if outcome.is_back:
        return "back"
    return "conflict" if outcome.is_conflict else "change" if outcome.differences else "same"


def _line_json(one: Examined, kind: str) -> dict[str, Any]:
    return {
        "row": one.line.row,
        "name": one.line.name,
        "born": str(one.line.born or ""),
        "kind": kind,
        "why": str(one.who.why or ""),
        "rows": list(one.who.rows),
        "outcomes": [_outcome_json(outcome) for outcome in one.outcomes if outcome.known is not None],
        "groups": ", ".join(filter(None, (one.line.squad, *one.line.groups))),
        "may_join": may_join(one),
    }


def _outcome_json(outcome: Outcome) -> dict[str, Any]:
    assert outcome.known is not None
    return {
        "id": str(outcome.known.id),
        "name": outcome.known.name,
        "born": str(outcome.known.born or ""),
        "is_member": outcome.known.is_member,
        "until": str(outcome.known.until or ""),
        "is_conflict": outcome.is_conflict,
        "changes": [
            {"what": one.what.value, "here": one.here, "file": one.file, "replaces": one.replaces}
            for one in outcome.differences
        ],
    }
