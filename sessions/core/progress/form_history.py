"""Folds what coaches saw and said into a history by feature: the words, what followed, first strides and later ones."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

NO_STRIDE = -1
"""Stands in a place for: about the training session as a whole."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """When something was: the start of its training session, the stride (0: the talk before), the order of arrival."""

    starts_at: datetime
    session: str
    stride: int
    seq: int

    @property
    def has_stride(self) -> bool:
        return self.stride != NO_STRIDE


@dataclass(frozen=True, slots=True)
class Seen:
    """What a coach saw of one feature on a stride: `held`, `partly` or `not_yet`."""

    place: Place
    feature: str
    shown: str
    by: str
    is_strength: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """The words that a coach used about one feature, said after the stride of its place."""

    place: Place
    feature: str
    words: str
    how: str
    understood: str
    by: str


@dataclass(frozen=True, slots=True)
class Words:
    """Words with what followed: the first later stride of that session on which the feature was judged, if any."""

    said: Said
    followed: Seen | None


@dataclass(frozen=True, slots=True)
class FeatureHistory:
    """The history of one feature, newest first.

    `first_strides`: what was seen on the first stride of a training session before any word about the feature there
    (learning). `later_strides`: all else that was seen (performance).
    """

    feature: str
    words: tuple[Words, ...]
    first_strides: tuple[Seen, ...]
    later_strides: tuple[Seen, ...]

    @property
    def latest(self) -> Place:
        said = [words.said.place for words in self.words]
        return max(said + [seen.place for seen in (*self.first_strides, *self.later_strides)])


def form_history(*, seen: Iterable[Seen], said: Iterable[Said]) -> tuple[FeatureHistory, ...]:
    """The history by feature of one athlete, the latest feature first; takes entries that count, in any order.

    What followed some words is the first judgement of that feature on a later stride of the same training session; a
    judgement of the next training session belongs to learning, not to the words. Words about a training session as a
    whole have nothing that followed.
    """
    seen_of, said_of = _by(seen, _feature), _by(said, _feature)
    histories = (_history(feature, seen_of[feature], said_of[feature]) for feature in {*seen_of, *said_of})
    return tuple(sorted(histories, key=lambda history: (history.latest, history.feature), reverse=True))


def last_strength(seen: Iterable[Seen]) -> Seen | None:
    """The strength seen last: noted as one, or a feature that held."""
    strengths = (one for one in seen if one.is_strength or one.shown == "held")
    return max(strengths, key=lambda one: one.place, default=None)


def _history(feature: str, seen: Sequence[Seen], said: Sequence[Said]) -> FeatureHistory:
    in_session = _by(seen, _session)
    spoken_before = {one.place.session for one in said if one.place.stride == 0}
    newest = sorted(seen, key=lambda one: one.place, reverse=True)
    words = sorted(said, key=lambda one: one.place, reverse=True)
    return FeatureHistory(
        feature=feature,
        words=tuple(Words(one, _followed(one, in_session[one.place.session])) for one in words),
        first_strides=tuple(one for one in newest if _is_learning(one, spoken_before)),
        later_strides=tuple(one for one in newest if not _is_learning(one, spoken_before)),
    )


def _is_learning(one: Seen, spoken_before: set[str]) -> bool:
    return one.place.stride == 1 and one.place.session not in spoken_before


def _followed(said: Said, seen: Sequence[Seen]) -> Seen | None:
    if not said.place.has_stride:
        return None
    later = (one for one in seen if one.place.stride > said.place.stride)
    return min(later, key=lambda one: one.place, default=None)


T = TypeVar("T")
K = TypeVar("K", bound=Hashable)


def _by(rows: Iterable[T], key: Callable[[T], K]) -> defaultdict[K, list[T]]:
    found: defaultdict[K, list[T]] = defaultdict(list)
    for row in rows:
        found[key(row)].append(row)
    return found


def _feature(one: Seen | Said) -> str:
    return one.feature


def _session(one: Seen) -> str:
    return one.place.session
