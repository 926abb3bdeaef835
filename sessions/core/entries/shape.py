"""The check of one posted entry: the entry with all keys of its kind, or the first reason why it is refused."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from sessions.core.entries.kinds import KINDS, NEVER_NULL, SHARED_KEYS, Kind, Role
from sessions.core.entries.values import EntryId, Rule, Text, Value, is_clean_text


class Fault(StrEnum):
    """Why an entry is refused by what stands in it, in the order in which the reasons are looked for."""

    BAD_ENTRY = "BAD_ENTRY"
    BAD_ID = "BAD_ID"
    UNKNOWN_KIND = "UNKNOWN_KIND"
    UNKNOWN_KEY = "UNKNOWN_KEY"
    BAD_VALUE = "BAD_VALUE"
    BAD_TEXT = "BAD_TEXT"
    WRONG_SESSION = "WRONG_SESSION"
    NOT_FOR_YOU = "NOT_FOR_YOU"


@dataclass(frozen=True, slots=True)
class Poster:
    """Who posts, in the one role that they have in this session."""

    person: str
    role: Role


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why one entry is refused: the code, the key that it is about, and the entry's id where it has a valid one."""

    code: str
    field: str | None = None
    id: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry in its normal form; `own` holds all keys of its kind, null where nothing was said."""

    id: str
    session: str
    kind: str
    athlete: str
    stride: int | None
    at: str
    device: str
    replaces: str | None
    withdrawn: bool
    own: Mapping[str, Value]

    def as_dict(self) -> dict[str, Value]:
        """The entry as one flat object, the keys that all kinds share first."""
        return {key: getattr(self, key) for key in SHARED_KEYS} | dict(self.own)


class _Found(Exception):
    """The first fault found, on its way out of the check."""

    def __init__(self, code: Fault, field: str | None) -> None:
        super().__init__(code, field)
        self.code, self.field = code, field


def check_entry(raw: object, *, session: str, poster: Poster) -> Entry | Refusal:
    """Check one posted entry by what stands in it alone.

    `raw` is what the JSON reader made of it (numbers as int, float or Decimal); `session` the id in the address;
    `poster` who is signed in. Answers the entry in its normal form, or a refusal with the first code that applies in
    the order of `Fault`. What needs the record (known, conflict, erased, features, roster, permission) is asked later.
    """
    valid_id = raw["id"] if isinstance(raw, dict) and _is_entry_id(raw.get("id")) else None
    try:
        return _checked(raw, session, poster)
    except _Found as found:
        return Refusal(found.code, found.field, valid_id)


def _is_entry_id(value: object) -> bool:
    try:
        EntryId().normal(value)
    except ValueError:
        return False
    return True


def _checked(raw: object, session: str, poster: Poster) -> Entry:
    if not isinstance(raw, dict):
        raise _Found(Fault.BAD_ENTRY, None)
    if not _is_entry_id(raw.get("id")):
        raise _Found(Fault.BAD_ID, "id")
    kind = _kind_of(raw)
    unknown = [key for key in raw if key not in SHARED_KEYS and key not in kind.keys]
    if unknown:
        raise _Found(Fault.UNKNOWN_KEY, min(unknown))
    shared = dict(_shared_values(raw, kind))
    own = dict(_own_values(raw, kind, bool(shared["withdrawn"])))
    _check_texts(own, kind)
    entry = Entry(**shared, own=own)  # type: ignore[arg-type]
    _check_address(entry, kind, session, poster)
    return entry


def _kind_of(raw: Mapping[str, object]) -> Kind:
    name = raw.get("kind")
    if not isinstance(name, str) or name not in KINDS:
        raise _Found(Fault.UNKNOWN_KIND, "kind")
    return KINDS[name]


def _shared_values(raw: Mapping[str, object], kind: Kind) -> Iterator[tuple[str, Value]]:
    for key, rule in SHARED_KEYS.items():
        value = raw.get(key)
        if key == "stride":
            yield key, _stride(value, kind)
        elif key == "withdrawn" or value is not None:
            yield key, _normal(key, rule, value)
        elif key in NEVER_NULL:
            raise _Found(Fault.BAD_VALUE, key)
        else:
            yield key, None
    if raw.get("replaces") == raw["id"] or (raw.get("withdrawn") and raw.get("replaces") is None):
        raise _Found(Fault.BAD_VALUE, "replaces")


def _stride(value: object, kind: Kind) -> Value:
    if value is None:
        return None
    if kind.stride is None:
        raise _Found(Fault.BAD_VALUE, "stride")
    return _normal("stride", kind.stride, value)


def _own_values(raw: Mapping[str, object], kind: Kind, is_withdrawn: bool) -> Iterator[tuple[str, Value]]:
    for key, rule in kind.keys.items():
        value = raw.get(key)
        if (is_withdrawn and value is not None) or (not is_withdrawn and value is None and key in kind.needed):
            raise _Found(Fault.BAD_VALUE, key)
        yield key, None if value is None else _normal(key, rule, value)
    if is_withdrawn:
        return
    if kind.one_of and all(raw.get(key) is None for key in kind.one_of):
        raise _Found(Fault.BAD_VALUE, None)
    if kind.needs_feature and raw.get("shown") is not None and raw.get("feature") is None:
        raise _Found(Fault.BAD_VALUE, "feature")


def _normal(key: str, rule: Rule, value: object) -> Value:
    try:
        return rule.normal(value)
    except ValueError:
        raise _Found(Fault.BAD_VALUE, key) from None


def _check_texts(own: Mapping[str, Value], kind: Kind) -> None:
    for key, rule in kind.keys.items():
        text = own[key]
        if isinstance(rule, Text) and isinstance(text, str) and not is_clean_text(text):
            raise _Found(Fault.BAD_TEXT, key)


def _check_address(entry: Entry, kind: Kind, session: str, poster: Poster) -> None:
    if entry.session != session:
        raise _Found(Fault.WRONG_SESSION, "session")
    if poster.role not in kind.posted_by:
        raise _Found(Fault.NOT_FOR_YOU, "kind")
    if poster.role is Role.ATHLETE and entry.athlete != poster.person:
        raise _Found(Fault.NOT_FOR_YOU, "athlete")
