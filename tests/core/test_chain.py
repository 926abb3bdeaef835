"""The hash chain of the access log: every change is found, and the first bad entry is named."""

import hashlib
from random import Random

import pytest

from athletes.core.chain import GENESIS, ChainFault, canonical, entry_hash, first_fault, witness_of, witnessed
from tests.sizes import examples

SIZE, SIGNED_TO = 60, 50
WAYS = ("edit", "edit_with_hash", "delete", "swap", "swap_contents", "cut", "cut_with_head", "rewrite")
CHAIN_SEES = ("edit", "delete", "swap", "swap_contents", "cut")


def content(seq, verb="read"):
    return {"seq": seq, "verb": verb, "fields": ["place"], "at": "2027-03-09T18:00:00.000000+00:00"}


def chain(contents, start=(0, GENESIS)):
    last_seq, last_hash = start
    entries = []
    for said in contents:
        last_seq += 1
        entries.append((last_seq, last_hash, entry_hash(last_hash, said), said))
        last_hash = entries[-1][2]
    return entries


def head_of(entries):
    return {"head_seq": entries[-1][0], "head_hash": entries[-1][2]}


WHOLE = chain([content(seq) for seq in range(1, SIZE + 1)])
WITNESS = witness_of(entry[2] for entry in WHOLE[:SIGNED_TO])


def tampered(draw, way, last):
    """A chain changed in one way at a place up to `last`, the head as the attacker leaves it, and the first bad seq."""
    place, entries, head = draw.randrange(last - 1), list(WHOLE), head_of(WHOLE)
    seq, prev, own, said = entries[place]
    if way == "edit":
        entries[place] = (seq, prev, own, content(seq, "write"))
    elif way == "edit_with_hash":
        entries[place] = (seq, prev, entry_hash(prev, content(seq, "write")), content(seq, "write"))
    elif way == "delete":
        del entries[place]
    elif way == "swap":
        entries[place], entries[place + 1] = entries[place + 1], entries[place]
    elif way == "swap_contents":
        other = entries[place + 1]
        entries[place], entries[place + 1] = (seq, prev, own, other[3]), (*other[:3], said)
    elif way in ("cut", "cut_with_head"):
        place = max(place, 1)
        seq, entries = place + 1, entries[:place]
        head = head_of(entries) if way == "cut_with_head" else head
    else:
        rest = [content(one, "write" if one == seq else "read") for one in range(seq, SIZE + 1)]
        entries = entries[:place] + chain(rest, start=(place, prev))
        head = head_of(entries)
    return entries, head, seq


def test_a_whole_chain_has_no_fault():
    assert first_fault(WHOLE, **head_of(WHOLE), signed=witnessed(0, WITNESS)) is None


@pytest.mark.parametrize("number", range(examples(200)))
def test_every_change_before_the_last_signed_head_is_found_and_the_first_bad_entry_named(number):
    draw = Random(number)
    entries, head, first_bad = tampered(draw, WAYS[number % len(WAYS)], SIGNED_TO)
    fault = first_fault(entries, **head, signed=witnessed(0, WITNESS))
    assert fault is not None
    assert fault.seq == first_bad


@pytest.mark.parametrize("way", WAYS)
def test_what_the_chain_sees_without_a_signed_head(way):
    entries, head, first_bad = tampered(Random(way), way, SIZE)
    fault = first_fault(entries, **head)
    if way in CHAIN_SEES:
        assert fault is not None and fault.seq == first_bad
    elif way == "edit_with_hash":
        assert fault == ChainFault(first_bad + 1, "prev_hash")
    else:
        assert fault is None  # a signed head is what tells these


def test_the_canonical_form_is_that_of_rfc_8785():
    """The string of the sample in RFC 8785 section 3.2.2, in its canonical form of section 3.2.3 (from memory)."""
    sample = {"string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f", "literals": ["b", "a"], "one": 1}
    expected = '{"literals":["b","a"],"one":1,"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'.encode()
    assert canonical(sample) == expected
    assert entry_hash(GENESIS, sample) == hashlib.sha256(GENESIS.encode() + expected).hexdigest()
