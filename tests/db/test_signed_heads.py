"""Signed heads of the access log: they leave the database, and tell what the chain alone cannot."""

import os
import stat

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from athletes.core.chain import entry_hash
from athletes.log_guard import TABLE
from athletes.log_key import is_signed, key_file, public_key, sign
from athletes.models import AccessLogEntry, ChainHead, SignedHead
from athletes.selectors.access_log import chain_fault
from athletes.selectors.signed_heads import heads_in_file
from athletes.services import signed_heads
from athletes.services.access_log import Act, log_acts
from athletes.services.signed_heads import heads_file, sign_heads
from athletes.viewer import viewer_for
from tests.db.test_access_log import tampered


def log(scene, times):
    with transaction.atomic():
        log_acts(viewer=viewer_for(scene.coach, "coach"), acts=[Act("read", "health", scene.athlete.pk)] * times)


def rewrite(club, place):
    """Change one entry and make all that follows, and the head, fit."""
    head = ChainHead.objects.get(club=club)
    rows = list(AccessLogEntry.objects.filter(club=club, seq__gte=place).order_by("seq"))
    last = rows[0].prev_hash
    rows[0].code = "X"
    for row in rows:
        row.prev_hash, row.hash = last, entry_hash(last, row.chained)
        last = row.hash
        tampered(
            f"UPDATE {TABLE} SET code = '{row.code}', prev_hash = '{row.prev_hash}', hash = '{row.hash}' "
            f"WHERE id = {row.pk}"
        )
    head.hash = last
    head.save()


def test_a_head_vouches_for_what_is_new_and_stands_in_the_file(scene, monkeypatch):
    monkeypatch.setattr(signed_heads, "MOST_ENTRIES", 2)
    log(scene, 3)
    sign_heads()
    log(scene, 1)
    sign_heads()
    spans = SignedHead.objects.filter(club=scene.club).order_by("seq").values_list("after_seq", "seq")
    assert list(spans) == [(0, 2), (2, 3), (3, 4)]
    outside = [head for head in heads_in_file(heads_file()) if head.club == str(scene.club.pk)]
    assert [(head.after_seq, head.seq) for head in outside] == list(spans)
    assert all(head.is_good(public_key()) for head in outside)
    assert sign_heads() == 0
    assert len([head for head in heads_in_file(heads_file()) if head.club == str(scene.club.pk)]) == 3


def test_the_key_is_its_owner_s_alone_and_stays():
    before = public_key()
    assert stat.S_IMODE(os.stat(key_file()).st_mode) == 0o600
    assert public_key() == before
    assert is_signed(b"text", signature=sign(b"text"), key=before)
    assert not is_signed(b"other", signature=sign(b"text"), key=before)
    assert not is_signed(b"text", signature="none", key=before)


def test_a_rewrite_with_its_head_is_found_by_the_signed_head(scene):
    log(scene, 4)
    sign_heads()
    log(scene, 1)
    rewrite(scene.club, 2)
    assert (fault := chain_fault(club_id=scene.club.pk)) and (fault.seq, fault.reason) == (2, "signed")


def test_heads_kept_elsewhere_tell_when_the_rows_were_taken_away_too(scene, capsys):
    log(scene, 4)
    sign_heads()
    rewrite(scene.club, 3)
    SignedHead.objects.filter(club=scene.club).delete()
    assert chain_fault(club_id=scene.club.pk) is None
    with pytest.raises(CommandError, match="entry 3 is bad"):
        call_command("verify_access_log", heads=heads_file(), key=public_key())


def test_a_head_that_was_signed_anew_with_another_key_is_bad(scene):
    log(scene, 2)
    sign_heads()
    SignedHead.objects.filter(club=scene.club).update(signature="00" * 64)
    assert (fault := chain_fault(club_id=scene.club.pk)) and (fault.seq, fault.reason) == (1, "signature")


def test_a_broken_chain_is_not_vouched_for(scene):
    log(scene, 3)
    tampered(f"UPDATE {TABLE} SET code = 'X' WHERE seq = 2")
    sign_heads()
    assert not SignedHead.objects.filter(club=scene.club).exists()


def test_the_command_prints_the_public_key(scene, capsys):
    log(scene, 1)
    call_command("sign_access_log")
    assert f"public key {public_key()}" in capsys.readouterr().out
