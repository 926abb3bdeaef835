"""The history by feature, told on one story and held against a slow reading of the same definitions."""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.progress.form_history import (
    NO_STRIDE,
    Place,
    Said,
    Seen,
    form_history,
    last_strength,
)
from tests.sizes import examples

TUESDAY = datetime(2027, 3, 2, 18, tzinfo=UTC)
THURSDAY = TUESDAY + timedelta(days=2)


def seen(day: datetime, stride: int, seq: int, shown: str, feature: str = "hands", strength: bool = False) -> Seen:
    return Seen(Place(day, day.isoformat(), stride, seq), feature, shown, "rona", strength)


def said(day: datetime, stride: int, seq: int, words: str = "hold a feather", feature: str = "hands") -> Said:
    return Said(Place(day, day.isoformat(), stride, seq), feature, words, "told", "yes", "rona")


def test_nothing_yet() -> None:
    assert form_history(seen=[], said=[]) == ()
    assert last_strength([]) is None


def test_words_and_the_first_stride_after_them() -> None:
    """A cue of stride k was said after stride k (the trackside contract)."""
    before, after, later = seen(TUESDAY, 2, 5, "not_yet"), seen(TUESDAY, 4, 9, "held"), seen(TUESDAY, 5, 11, "partly")
    (history,) = form_history(seen=[later, before, after], said=[said(TUESDAY, 2, 6)])
    assert [(words.said.words, words.followed) for words in history.words] == [("hold a feather", after)]


def test_the_stride_counts_and_not_the_arrival() -> None:
    """Another phone's entry of an earlier stride that arrives late follows nothing."""
    late_arrival = seen(TUESDAY, 1, 99, "held")
    (history,) = form_history(seen=[late_arrival], said=[said(TUESDAY, 1, 6)])
    assert history.words[0].followed is None


def test_what_follows_stays_within_the_session_and_the_feature() -> None:
    others = [seen(TUESDAY, 3, 9, "held", feature="hips"), seen(THURSDAY, 1, 2, "held")]
    histories = {one.feature: one for one in form_history(seen=others, said=[said(TUESDAY, 2, 6)])}
    assert histories["hands"].words[0].followed is None
    assert histories["hands"].first_strides == (others[1],)


def test_learning_is_the_first_stride_before_any_word_on_the_feature() -> None:
    unprompted, prompted = seen(TUESDAY, 1, 1, "held"), seen(THURSDAY, 1, 3, "held")
    talk = said(THURSDAY, 0, 1)
    (history,) = form_history(seen=[unprompted, prompted], said=[talk])
    assert history.first_strides == (unprompted,)
    assert history.later_strides == (prompted,)
    assert history.words[0].followed == prompted


def test_words_about_the_whole_session_are_followed_by_nothing_and_spoil_no_first_stride() -> None:
    first = seen(TUESDAY, 1, 1, "partly")
    (history,) = form_history(seen=[first], said=[said(TUESDAY, NO_STRIDE, 2)])
    assert history.words[0].followed is None
    assert history.first_strides == (first,)


def test_newest_first_between_features_and_within_them() -> None:
    entries = [seen(TUESDAY, 2, 1, "held"), seen(THURSDAY, 2, 1, "partly"), seen(THURSDAY, 3, 2, "held", "hips")]
    histories = form_history(seen=entries, said=[])
    assert [history.feature for history in histories] == ["hips", "hands"]
    assert histories[1].later_strides == (entries[1], entries[0])


def test_last_strength() -> None:
    noted = seen(TUESDAY, 2, 1, "partly", "knees", strength=True)
    held = seen(TUESDAY, 1, 4, "held", "hips")
    assert last_strength([noted, held, seen(THURSDAY, 1, 1, "not_yet")]) == noted


days = st.sampled_from([TUESDAY, THURSDAY])
features = st.sampled_from(["hands", "hips"])
strides = st.integers(-1, 4)
seqs = st.integers(1, 200)
seen_lists = st.lists(
    st.builds(seen, days, strides, seqs, st.sampled_from(["held", "partly", "not_yet"]), features), max_size=15
)
said_lists = st.lists(st.builds(said, days, strides.map(lambda k: min(k, 3)), seqs, feature=features), max_size=8)


@settings(max_examples=examples(1000), deadline=None)
@given(seen_lists, said_lists, st.randoms())
def test_against_a_slow_reading(all_seen: list[Seen], all_said: list[Said], dice: object) -> None:
    histories = form_history(seen=all_seen, said=all_said)
    assert {one.feature for one in histories} == {one.feature for one in [*all_seen, *all_said]}
    assert sum(len(one.first_strides) + len(one.later_strides) for one in histories) == len(all_seen)
    for history in histories:
        for words in history.words:
            place = words.said.place
            candidates = [
                (one.place.stride, one.place.seq)
                for one in all_seen
                if one.feature == history.feature and one.place.session == place.session
                if place.stride != NO_STRIDE and one.place.stride > place.stride
            ]
            found = words.followed and (words.followed.place.stride, words.followed.place.seq)
            assert found == (min(candidates) if candidates else None)
    shuffled_seen, shuffled_said = list(all_seen), list(all_said)
    dice.shuffle(shuffled_seen)  # type: ignore[attr-defined]
    dice.shuffle(shuffled_said)  # type: ignore[attr-defined]
    again = form_history(seen=shuffled_seen, said=shuffled_said)
    assert [one.feature for one in again] == [one.feature for one in histories]
