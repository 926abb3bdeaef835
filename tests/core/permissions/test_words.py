"""Every code has its sentence: for adults and for children, and none speaks of the other's business."""

import pytest
from django.utils.functional import Promise

from athletes.core.permissions import Code
from athletes.permission_words import WORDS, sentence_for


def test_no_code_is_without_words() -> None:
    assert set(WORDS) == set(Code)


@pytest.mark.parametrize("code", Code)
@pytest.mark.parametrize("to_child", [False, True], ids=["adult", "child"])
def test_a_sentence_is_plain(code: Code, to_child: bool) -> None:
    """Whole, short (a phone shows it in three lines), without the code's own name, and translatable."""
    sentence = sentence_for(code, to_child=to_child)
    assert sentence[0].isupper() and sentence.endswith(".")
    assert len(sentence.split()) <= 20
    assert code.value not in sentence and "_" not in sentence
    words = WORDS[code]
    assert isinstance(words.child if to_child else words.adult, Promise)


def test_children_are_spoken_to_in_other_words() -> None:
    assert [code for code in Code if sentence_for(code) == sentence_for(code, to_child=True)] == []


def test_no_sentence_says_which_guardian_answered_what() -> None:
    """Guardians never see each other's answers; one who asks may be told this very sentence."""
    for to_child in (False, True):
        assert "guardian" not in sentence_for(Code.GUARDIAN_SAYS_NO, to_child=to_child)
