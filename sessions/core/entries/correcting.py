"""A correction: the entry that replaces another one, or takes it back."""

from collections.abc import Mapping

from sessions.core.entries.shape import Entry
from sessions.core.entries.values import Value


def correction(of: Entry, *, id: str, at: str, device: str, own: Mapping[str, Value] | None) -> dict[str, object]:
    """The entry to post that replaces `of`, as the trackside contract has it: same session, kind, athlete and stride.

    `own` are the keys of the kind as they are to stand; None takes `of` back. `id` is a new one; `at` and `device` are
    written as for any entry. What is posted is checked where it is taken, not here.
    """
    shared = {"session": of.session, "kind": of.kind, "athlete": of.athlete, "stride": of.stride}
    said: Mapping[str, object] = {"withdrawn": True} if own is None else own
    return {"id": id, **shared, "at": at, "device": device, "replaces": of.id, **said}
