"""A roster file as its page shows it: what is asked, what was answered, what would change."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.functional import cached_property
from django.utils.translation import gettext as _

from athletes.core.roster_file.choosing import AWAY, BACK, FILE, HERE, JOINS, LEAVE, NEW
from athletes.core.roster_file.compare import Change
from athletes.core.roster_file.dates import Order, order_of
from athletes.core.roster_file.names import folded
from athletes.models import RosterFile
from athletes.web import roster_words
from athletes.web.roster_words import shown_day

AT_ONCE = 50
MOST_LISTED = 200
Line = Mapping[str, Any]


@dataclass(frozen=True)
class Question:
    """One row about which something is asked: why, the answers, and the one that was given."""

    row: int
    name: str
    born: str
    why: str
    answers: tuple[tuple[str, str], ...]
    given: str


@dataclass(frozen=True)
class NameQuestion:
    """A squad or group that the club does not have: what it may mean."""

    field: str
    name: str
    is_group: bool
    given: str


class FileView:
    """What the page asks of a file, worked out from its preview and the choices so far."""

    def __init__(self, file: RosterFile, country: str) -> None:
        self.file, self.preview = file, file.preview
        self.country = country

    @property
    def counts(self) -> Mapping[str, int]:
        return self.preview.get("counts", {})

    @property
    def fault(self) -> str:
        """Why the whole file was not read."""
        return roster_words.file_fault(self.preview) if self.file.state == RosterFile.State.FAILED else ""

    @property
    def faults(self) -> list[tuple[str, str, str]]:
        """Each cell as a spreadsheet names it, the column's heading, and what is wrong."""
        return [
            (roster_words.cell_named(one), one["column"], roster_words.cell_fault(one))
            for one in self.preview.get("faults", ())
        ]

    @cached_property
    def orders(self) -> list[tuple[str, str]]:
        """The two ways to read a day, the club's own first; none where nothing is asked."""
        if not (found := self.preview.get("two_ways")):
            return []
        first = order_of(self.country)
        return [
            (order.value, shown_day(found[0][order.value])) for order in sorted(Order, key=lambda one: one != first)
        ]

    @property
    def names(self) -> list[NameQuestion]:
        """Squads and groups that are new, with what was said about each."""
        said = self.file.options
        return [
            NameQuestion(f"{kind}-{number}", name, kind == "group", said.get(f"{kind}s", {}).get(folded(name), ""))
            for kind in ("squad", "group")
            for number, name in enumerate(self.preview.get(f"new_{kind}s", ()))
        ]

    @cached_property
    def questions(self) -> tuple[list[Question], list[Question]]:
        """Rows still open, and rows answered."""
        open_rows, answered = [], []
        for line in self.preview.get("lines", ()):
            if line["kind"] in ("ask", "conflict", "back"):
                question = self._question(line)
                (answered if question.given else open_rows).append(question)
        return open_rows, answered

    @property
    def open_now(self) -> list[Question]:
        return self.questions[0][:AT_ONCE]

    @property
    def answered_now(self) -> list[Question]:
        return self.questions[1][:AT_ONCE]

    @property
    def has_conflicts(self) -> bool:
        return bool(self.counts.get("conflict"))

    @property
    def has_leavers(self) -> bool:
        return bool(self.counts.get("back"))

    @property
    def visitors(self) -> list[tuple[Line, str, bool]]:
        """Visitors on trial who may join: until when the trial runs, and whether an admin said that they join."""
        rows = [line for line in self.preview.get("lines", ()) if line.get("may_join")][:MOST_LISTED]
        return [
            (line, shown_day(line["outcomes"][0]["until"]), self._choice(line).get("trial") == JOINS) for line in rows
        ]

    @property
    def is_complete(self) -> bool:
        """Whether nothing is wrong and nothing open, and there is something to do."""
        waits = self.file.state == RosterFile.State.READY
        is_open = self.orders or self.questions[0] or self.wants_notice or any(not one.given for one in self.names)
        return waits and not is_open and not self.preview.get("fault_count") and self.does_anything

    @property
    def has_joining(self) -> bool:
        """Whether somebody would become a member by it."""
        return any(self.counts.get(kind) for kind in ("add", "ask", "back"))

    @property
    def wants_notice(self) -> bool:
        """Nobody joins before an admin says that the notice was shown."""
        is_chosen_new = any(choice.get("who") == NEW for choice in self.file.choices.values())
        joins = self.counts.get("add") or is_chosen_new or any(map(self._comes_back, self.preview.get("lines", ())))
        return bool(joins) and not self.file.options.get("notice_shown")

    @property
    def does_anything(self) -> bool:
        is_joining = any(choice.get("trial") == JOINS for choice in self.file.choices.values())
        return is_joining or any(self.counts.get(kind) for kind in ("add", "change", "conflict", "ask", "back"))

    @property
    def additions(self) -> list[Line]:
        return [line for line in self.preview.get("lines", ()) if line["kind"] == "add"][:MOST_LISTED]

    @property
    def changes(self) -> list[tuple[Line, list[str]]]:
        """Rows that only add to what is here."""
        rows = [line for line in self.preview.get("lines", ()) if line["kind"] == "change"][:MOST_LISTED]
        return [(line, _said(line["outcomes"][0])) for line in rows]

    def _question(self, line: Line) -> Question:
        choice = self._choice(line)
        who, values = choice.get("who", ""), choice.get("values") or self.file.options.get("values", "")
        if line["kind"] == "back":
            return self._leaver(line, who, values)
        if line["kind"] == "conflict":
            why = "; ".join(_said(line["outcomes"][0]))
            answers: tuple[tuple[str, str], ...] = ((FILE, _("as in the file")), (HERE, _("keep what is here")))
            return Question(line["row"], line["name"], shown_day(line["born"]), why, answers, values)
        answers = (*_who(line), (NEW, _("somebody else: add")), (LEAVE, _("leave this row out")))
        why, given = roster_words.why_asked(line), _given(answers, who, values)
        return Question(line["row"], line["name"], shown_day(line["born"]), why, answers, given)

    def _comes_back(self, line: Line) -> bool:
        """Whether somebody who left was chosen to be a member again."""
        back = {one["id"] for one in line["outcomes"] if Change.MEMBER in _whats(one)}
        return bool(back) and self._question(line).given.partition(":")[0] in back

    def _leaver(self, line: Line, who: str, values: str) -> Question:
        [known] = line["outcomes"]
        who = who or {BACK: known["id"], AWAY: LEAVE}.get(self.file.options.get("back", ""), "")
        answers = (*_who(line), (LEAVE, _("stays away: leave this row out")))
        why = _("Left on %(day)s.") % {"day": shown_day(known["until"])}
        given = _given(answers, who, values)
        return Question(line["row"], line["name"], shown_day(line["born"]), why, answers, given)

    def _choice(self, line: Line) -> Mapping[str, str]:
        found: Mapping[str, str] = self.file.choices.get(str(line["row"]), {})
        return found


def _given(answers: tuple[tuple[str, str], ...], who: str, values: str) -> str:
    """Which of the answers was given: who it is, where that is asked together with whose values count."""
    known = {value for value, _words in answers}
    return next((given for given in (f"{who}:{values}", who) if given in known), "")


def _who(line: Line) -> Iterator[tuple[str, str]]:
    """The people it may be; where something here would go, with which of the two counts."""
    for one in line["outcomes"]:
        name = one["name"] + (f" ({shown_day(one['born'])})" if one["born"] else "")
        said = "; ".join(_said(one))
        if one["is_conflict"]:
            yield f"{one['id']}:{FILE}", _("%(name)s, as in the file: %(said)s") % {"name": name, "said": said}
            yield f"{one['id']}:{HERE}", _("%(name)s, keep what is here") % {"name": name}
        elif said:
            yield one["id"], _("%(name)s: %(said)s") % {"name": name, "said": said}
        else:
            yield one["id"], _("%(name)s, nothing changes") % {"name": name}


def _whats(outcome: Mapping[str, Any]) -> set[str]:
    return {change["what"] for change in outcome["changes"]}


def _said(outcome: Mapping[str, Any]) -> list[str]:
    return [roster_words.change_words(change) for change in outcome["changes"]]
