"""What does not suit an athlete: words are compared as they are spoken, a point stands for all words about it."""

from sessions.core.progress.unsuited import Note, is_unsuited


def test_words_as_spoken_and_whole_points() -> None:
    notes = [Note("hands", "Hold a  feather"), Note("knees")]
    assert is_unsuited(notes, "hands", " hold A feather ")
    assert not is_unsuited(notes, "hands", "hold two feathers")
    assert not is_unsuited(notes, "hands", "")
    assert is_unsuited(notes, "knees", "knees up")
    assert is_unsuited(notes, "knees", "")
    assert not is_unsuited(notes, "feet", "hold a feather")
