"""Entries as rows, as the exchange would have kept them."""

import uuid
from itertools import count

from athletes.models import Person
from sessions.models import Entry, PainDetail, TrainingSession
from sessions.selectors.entries import entry_of
from sessions.services.keep_pain import PainSaid, keep_pain
from teamtrack.common.clock import utc_now

_seqs = count(1)


def entry_id() -> uuid.UUID:
    """A random id in the shape of version 7, as phones make them."""
    bits = bytearray(uuid.uuid4().bytes)
    bits[6] = 0x70 | bits[6] & 0x0F
    return uuid.UUID(bytes=bytes(bits))


def make_entry(
    training_session: TrainingSession,
    kind: str,
    athlete: Person,
    by: Person,
    *,
    stride: int | None = None,
    replaces: Entry | None = None,
    withdrawn: bool = False,
    **content: object,
) -> Entry:
    """One entry by a coach, or by the athlete about oneself."""
    return Entry.objects.create(
        id=entry_id(),
        club=training_session.club,
        training_session=training_session,
        seq=next(_seqs),
        kind=kind,
        athlete=athlete,
        stride=stride,
        at="2027-03-09T17:04:05.123Z",
        device="phone-0001",
        replaces=replaces.pk if replaces else None,
        withdrawn=withdrawn,
        by=by,
        by_athlete=by == athlete,
        received_at=utc_now(),
        content=content,
    )


def see(
    training_session: TrainingSession, athlete: Person, by: Person, stride: int, shown: str, feature: str = "tall_hips"
) -> Entry:
    """An observation of a stride."""
    return make_entry(training_session, "observation", athlete, by, stride=stride, feature=feature, shown=shown)


def tell(
    training_session: TrainingSession,
    athlete: Person,
    by: Person,
    stride: int | None,
    words: str,
    feature: str = "tall_hips",
) -> Entry:
    """Words told after a stride."""
    own = {"feature": feature, "words": words, "how": "told", "understood": "yes"}
    return make_entry(training_session, "cue", athlete, by, stride=stride, **own)


def make_pain(training_session: TrainingSession, athlete: Person, by: Person, place: str = "knee") -> Entry:
    """A pain note: its text lies in a row of its own."""
    entry = make_entry(training_session, "pain", athlete, by)
    said = {"place": place, "side": "left", "words": "since Monday"}
    keep_pain(club_id=entry.club_id, pains=[PainSaid(entry.pk, athlete.pk, said)])
    return entry


def pains_kept() -> list[tuple[Entry, dict[str, object]]]:
    """Every pain note whose text is kept, in the order of its session, with what it says."""
    rows = PainDetail.objects.select_related("entry").order_by("entry__seq")
    return [(row.entry, dict(entry_of(row.entry).own)) for row in rows]
