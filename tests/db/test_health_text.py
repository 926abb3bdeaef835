"""Health text is sealed: the database alone does not open it, nor does another row's place or another's key.

AES-256-GCM is checked against the vectors of NIST's CAVP (gcmEncryptExtIV256.rsp, first vector with 128 bits of text).
"""

import stat

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.db import transaction

from athletes import health_key
from athletes.health_key import Unreadable, destroy_key, key_file, make_key, seal, unseal
from athletes.models import AccessLogEntry, HealthKey, LedgerLine
from athletes.services.health_keys import destroy_listed_keys, keys_to_seal
from athletes.viewer import viewer_for
from sessions.access import get_part
from sessions.models import Entry, PainDetail
from sessions.selectors.entries import UNREADABLE
from sessions.services.read_entries import read_entries
from teamtrack.common.clock import utc_now
from tests.entries import make_pain, pains_kept
from tests.people import answer


@pytest.fixture(autouse=True)
def key_folder(settings, tmp_path):
    settings.HEALTH_KEYS_DIR = tmp_path / "keys"
    return settings.HEALTH_KEYS_DIR


@pytest.fixture
def noted(scene):
    """A pain note of an athlete whose coaches may read it."""
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach,))
    make_pain(scene.training_session, scene.athlete, scene.coach)
    return scene


def read(scene):
    part = get_part(viewer_for(scene.coach, "coach"), scene.training_session.pk)
    return [row for row in read_entries(part=part, after=0, limit=50).items if row["kind"] == "pain"]


def test_the_cipher_is_the_standard_s():
    key = bytes.fromhex("31bdadd96698c204aa9ce1448ea94ae1fb4a9a0b3c9d773b51bb1822666b8f22")
    nonce, text = bytes.fromhex("0d18e06c7c725ac9e362e1ce"), bytes.fromhex("2db5168e932556f8089a0622981d017d")
    sealed = "fa4362189661d163fcd6a56d8bf0405ad636ac1bbedd5cc3ee727dc2ab4a9489"
    assert AESGCM(key).encrypt(nonce, text, None).hex() == sealed


def test_what_is_sealed_opens_in_its_row_alone(key_folder):
    mine, other = make_key(), make_key()
    sealed = seal({"place": "knee", "words": "seit Montag, süß"}, key_id=mine, row="a")
    assert unseal(sealed, row="a") == {"place": "knee", "words": "seit Montag, süß"}
    assert b"knee" not in sealed
    assert sealed != seal({"place": "knee", "words": "seit Montag, süß"}, key_id=mine, row="a")
    with pytest.raises(Unreadable):
        unseal(sealed, row="b")
    with pytest.raises(Unreadable):
        unseal(sealed[:1] + other.bytes + sealed[17:], row="a")
    for place in (0, 5, 20, len(sealed) - 1):
        with pytest.raises(Unreadable):
            unseal(sealed[:place] + bytes([sealed[place] ^ 1]) + sealed[place + 1 :], row="a")
    with pytest.raises(Unreadable):
        unseal(b"", row="a")


def test_length_says_little(key_folder):
    key = make_key()
    lengths = {len(seal({"place": "knee", "words": "x" * n}, key_id=key, row="a")) for n in range(1, 30)}
    assert len(lengths) == 1


def test_keys_are_their_owner_s_alone_and_gone_for_good(key_folder):
    key = make_key()
    assert stat.S_IMODE(key_file(key).stat().st_mode) == 0o600
    assert stat.S_IMODE(key_folder.stat().st_mode) == 0o700
    sealed = seal({}, key_id=key, row="a")
    assert destroy_key(key) and not destroy_key(key)
    assert list(key_folder.iterdir()) == []
    with pytest.raises(Unreadable):
        unseal(sealed, row="a")
    with pytest.raises(Unreadable):
        seal({}, key_id=key, row="a")


@pytest.mark.django_db
def test_the_database_holds_no_clear_word(noted):
    [row] = PainDetail.objects.all()
    stored = bytes(row.sealed)
    assert b"knee" not in stored and b"Monday" not in stored
    assert Entry.objects.get(kind="pain").content == {}
    assert {field.name for field in PainDetail._meta.concrete_fields} == {"entry", "club", "athlete", "sealed"}


@pytest.mark.django_db
def test_one_key_an_athlete_and_every_read_is_logged(noted):
    make_pain(noted.training_session, noted.athlete, noted.coach, place="hip")
    make_pain(noted.training_session, noted.adult_athlete, noted.coach)
    assert HealthKey.objects.count() == 2
    assert [row["place"] for row in read(noted)] == ["knee", "hip"]
    assert AccessLogEntry.objects.filter(verb="read", kind="pain").count() == 1


@pytest.mark.django_db
def test_a_missing_key_is_said_in_words_and_new_text_gets_a_new_key(noted, signed_in):
    destroy_key(HealthKey.objects.get().pk)
    [row] = read(noted)
    assert (row["place"], row["side"], row["words"]) == (None, None, str(UNREADABLE))
    for page in (f"/coach/athletes/{noted.athlete.pk}", f"/coach/sessions/{noted.training_session.pk}/summary"):
        shown = signed_in(noted.coach).get(page)
        assert shown.status_code == 200
    assert str(UNREADABLE) in signed_in(noted.coach).get(f"/coach/athletes/{noted.athlete.pk}").content.decode()
    make_pain(noted.training_session, noted.athlete, noted.coach, place="hip")
    assert [said["place"] for _, said in pains_kept()] == [None, "hip"]


@pytest.mark.django_db
def test_sent_again_after_its_key_is_gone_it_is_known(noted, signed_in):
    entry = Entry.objects.get(kind="pain")
    posted = {
        "id": str(entry.pk), "session": str(noted.training_session.pk), "kind": "pain",
        "athlete": str(noted.athlete.pk), "at": entry.at, "device": entry.device, "place": "knee", "side": "left",
        "words": "since Monday",
    }  # fmt: skip

    def sent(**other):
        body = {"as": str(noted.coach.pk), "entries": [posted | other]}
        path = f"/api/v1/sessions/{noted.training_session.pk}/entries"
        answered = signed_in(noted.coach).post(path, body, content_type="application/json").json()
        return answered["answers"][0]["answer"]

    assert (sent(), sent(place="hip")) == ("known", "conflict")
    destroy_key(HealthKey.objects.get().pk)
    assert sent() == "known"


@pytest.mark.django_db
def test_listed_keys_are_destroyed_again(scene):
    with transaction.atomic():
        [key] = keys_to_seal(club_id=scene.club.pk, athlete_ids=[scene.athlete.pk]).values()
    LedgerLine.objects.create(club=scene.club, at=utc_now(), what="health_key", why="asked", ids=[str(key)])
    assert key_file(key).exists()
    assert (destroy_listed_keys(), destroy_listed_keys()) == (1, 0)
    assert not key_file(key).exists()


def test_a_key_file_that_was_cut_short_is_no_key(key_folder):
    key = make_key()
    sealed = seal({}, key_id=key, row="a")
    health_key.key_file(key).write_bytes(b"short")
    with pytest.raises(Unreadable):
        unseal(sealed, row="a")
