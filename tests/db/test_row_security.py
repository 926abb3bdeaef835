"""Row security with the real serving login on PostgreSQL: nothing is seen but through the door.

What row security, `set_config(..., true)` and BYPASSRLS do: PostgreSQL 15 manual, sections 5.8 and 9.27.1.
"""

import re
import uuid

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse

from athletes.models import AccessLogEntry, LedgerLine, PermissionEvent, PermissionRecipient
from athletes.services.record_permission import answer_permission
from athletes.viewer import viewer_for
from sessions.access import get_part
from sessions.models import EmergencyAccess, Notice, PainDetail
from sessions.selectors.entries import PURPOSES, people_on_roster
from sessions.services.read_entries import read_entries
from sessions.services.tell_pain import tell_pain
from teamtrack.common.clock import utc_now
from teamtrack.common.row_security import TABLES, rows_open
from teamtrack.common.serving.app_login import login_fault, refuse_owner_login
from tests.doors import DOORS, OWN
from tests.entries import entry_id, make_pain
from tests.people import answer, make_scene
from tests.serving_login import serving_login
from tests.test_doors import EVERYBODY, address, without_token

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connection.vendor != 'postgresql'", reason="SQLite has no row security"),
]


@pytest.fixture
def scene():
    """The usual people, with a pain note of two athletes, both allowed, and one answer in the other club."""
    scene = make_scene()
    for athlete in (scene.athlete, scene.adult_athlete):
        for giver in {athlete, scene.guardian} if athlete == scene.athlete else {athlete}:
            answer(athlete, giver, names=(scene.coach, scene.second_coach))
        make_pain(scene.training_session, athlete, scene.coach)
    answer(scene.stranger_athlete, scene.stranger_athlete, "share", names=(scene.stranger,))
    Notice.objects.create(club=scene.club, to=scene.coach, kind="moved", made_at=utc_now())
    return scene


def counts():
    models = (PermissionEvent, PermissionRecipient, PainDetail, Notice)
    return [model.objects.count() for model in models]


def test_without_the_door_no_row_is_seen_and_none_is_written(scene):
    assert counts() == [4, 7, 2, 1]
    with serving_login():
        assert counts() == [0, 0, 0, 0]
        assert PermissionEvent.objects.update(answer="yes") == 0
        assert PainDetail.objects.all().delete()[0] == 0
        with pytest.raises(DatabaseError, match="row-level security"):
            Notice.objects.create(club=scene.club, to=scene.coach, kind="moved", made_at=utc_now())
    assert counts() == [4, 7, 2, 1]


def test_through_the_door_only_what_it_names_is_seen(scene):
    with serving_login():
        with rows_open(people=[scene.child.pk]):
            assert counts() == [0, 0, 0, 0]
        with rows_open(people=[scene.athlete.pk]):
            assert [row.athlete_id for row in PainDetail.objects.all()] == [scene.athlete.pk]
            assert counts()[:2] == [0, 0]
        with rows_open(people=[scene.coach.pk]):
            assert [row.to_id for row in Notice.objects.all()] == [scene.coach.pk]
        with rows_open(club_id=scene.stranger_club.pk):
            assert [row.athlete_id for row in PermissionEvent.objects.all()] == [scene.stranger_athlete.pk]
        with rows_open(club_id=scene.club.pk), pytest.raises(DatabaseError, match="row-level security"):
            make_answer_of_the_other_club(scene)


def make_answer_of_the_other_club(scene):
    with transaction.atomic():
        answer(scene.stranger_athlete, scene.stranger_athlete, "share")


def test_an_emergency_opens_and_its_words_lie_behind_the_door(scene, signed_in):
    answer(scene.athlete, scene.athlete, word="withdrawn")
    page = f"/admin/emergency/{scene.athlete.pk}"
    with serving_login():
        browser = signed_in(scene.admin)
        assert browser.post(f"{page}/open", {"cannot_answer": "on", "reason": "Fell"}).status_code == 302
        assert "since Monday" in browser.get(page).content.decode()
        assert EmergencyAccess.objects.count() == 0
        with rows_open(people=[scene.child.pk, scene.admin.pk]):
            assert EmergencyAccess.objects.count() == 0
        with rows_open(people=[scene.athlete.pk]):
            assert EmergencyAccess.objects.get().reason == "Fell"
        for who, address in (("guardian", "/guardian/family"), ("welfare", "/welfare/emergencies")):
            assert "Fell" in signed_in(getattr(scene, who)).get(address).content.decode()
        assert browser.post(f"{page}/close").status_code == 302
        assert "since Monday" not in browser.get(page).content.decode()


def test_a_door_inside_another_shuts_behind_it(scene):
    with serving_login(), rows_open(people=[scene.athlete.pk]):
        with rows_open(club_id=scene.club.pk, people=[scene.adult_athlete.pk]):
            assert (PainDetail.objects.count(), PermissionEvent.objects.count()) == (2, 3)
        assert (PainDetail.objects.count(), PermissionEvent.objects.count()) == (1, 0)


def test_a_connection_taken_again_after_the_commit_shows_nothing(scene):
    with serving_login():
        connection.ensure_connection()
        same = connection.connection
        with rows_open(club_id=scene.club.pk, people=[scene.athlete.pk]):
            assert PainDetail.objects.exists()
        assert connection.connection is same
        assert counts() == [0, 0, 0, 0]
        try:
            with rows_open(club_id=scene.club.pk, people=[scene.athlete.pk]):
                raise RuntimeError
        except RuntimeError:
            assert counts() == [0, 0, 0, 0]


def test_the_two_walls_agree(scene):
    """What row security lets through is what the decision allowed, for whoever reads."""
    for who in ("coach", "second_coach", "helper"):
        part = get_part(viewer_for(getattr(scene, who), "coach"), scene.training_session.pk)
        answers = part.answers_to_reader(people_on_roster(part.training_session), PURPOSES)
        allowed = answers.allowed_ids("health")
        assert bool(allowed) == (who != "helper")
        with serving_login():
            with rows_open(people=allowed):
                seen = set(PainDetail.objects.values_list("athlete_id", flat=True))
            assert seen == allowed
            pains = [row for row in read_entries(part=part, after=0, limit=50).items if row["kind"] == "pain"]
            assert {row["athlete"] for row in pains} == {str(one) for one in allowed}
            assert {row["words"] for row in pains} <= {"since Monday"}


def test_the_serving_login_owns_nothing_and_only_adds_to_log_and_ledger(scene):
    with serving_login():
        answer_permission(
            viewer=viewer_for(scene.adult_athlete, "athlete"), athlete_id=scene.adult_athlete.pk, purpose="health",
            answer="no",
        )  # fmt: skip
        LedgerLine.objects.create(club=scene.club, at=utc_now(), what="nothing", why="asked")
        for rows in (AccessLogEntry.objects.all(), LedgerLine.objects.all()):
            assert rows.exists()
            for change in (rows.delete, lambda rows=rows: rows.update(club=scene.club)):
                with pytest.raises(DatabaseError, match="permission denied"):
                    change()
        assert login_fault(connection) == ""
        for statement in ("ALTER TABLE training_paindetail DISABLE ROW LEVEL SECURITY", "SET ROLE postgres"):
            with pytest.raises(DatabaseError), connection.cursor() as cursor:
                cursor.execute(statement)


def test_a_login_that_row_security_does_not_bind_is_refused(scene):
    with pytest.raises(ImproperlyConfigured, match="passes row security by"):
        refuse_owner_login(connection)
    with serving_login() as name:
        refuse_owner_login(connection)
    faults = []
    for sort in ("BYPASSRLS", "OWNER", "OFF", "LOG"):
        with serving_login() as name:
            faults.append(fault_where(sort, name))
    for fault, words in zip(faults, ("passes row security by", "owns training_venue", "Row security is off", "change"),
                            strict=True):  # fmt: skip
        assert words in fault


def fault_where(sort, name):
    """What is said of a serving login after the owner has loosened something; set right again afterwards."""
    import psycopg

    loose, right = {
        "BYPASSRLS": (f'ALTER ROLE "{name}" BYPASSRLS', f'ALTER ROLE "{name}" NOBYPASSRLS'),
        "OWNER": (f'ALTER TABLE training_venue OWNER TO "{name}"', "ALTER TABLE training_venue OWNER TO postgres"),
        "OFF": tuple(f"ALTER TABLE {TABLES[2]} {word} ROW LEVEL SECURITY" for word in ("DISABLE", "ENABLE")),
        "LOG": (
            f'GRANT UPDATE ON athletes_accesslogentry TO "{name}"',
            f'REVOKE UPDATE ON athletes_accesslogentry FROM "{name}"',
        ),
    }[sort]
    config = connection.settings_dict
    with psycopg.connect(
        host=config["HOST"] or "127.0.0.1", port=config["PORT"] or 5432, user="postgres", dbname=config["NAME"],
        autocommit=True,
    ) as owner:  # fmt: skip
        owner.execute(loose)
        try:
            return login_fault(connection)
        finally:
            owner.execute(right)


def test_the_whole_line_of_pages_is_the_same_under_the_serving_login(scene, signed_in):
    tell_pain(entry_id=PainDetail.objects.filter(athlete=scene.athlete).get().entry_id)
    left_out = {"sign-out", "factor-passkey", "my-password"}  # a challenge and an example that are new each time
    names = [name for name in sorted((set(DOORS) | OWN) - left_out) if not name.startswith("api-schema")]
    places = {name: address(name, scene) for name in names}  # once: some make the row that they lead to
    browsers = {who: signed_in(getattr(scene, who)) for who in EVERYBODY}
    as_owner = {(who, name): asked(browsers[who], places[name]) for who in EVERYBODY for name in names}
    with serving_login():
        as_served = {(who, name): asked(browsers[who], places[name]) for who in EVERYBODY for name in names}
    assert sum(status == 200 for status, _body in as_owner.values()) > 60
    for where, answered in as_owner.items():
        assert as_served[where][0] == answered[0], where
        differing = set(as_served[where][1].splitlines()) ^ set(answered[1].splitlines())
        assert not differing, (where, differing)
    assert b"/seen" in as_served["second_coach", "today"][1]  # the notice of a pain note


TELLS_TIME = rb"\d\dT[\d:.]+|\d\d:\d\d|data-keep-s=.\d+"


def asked(browser: Client, path: str) -> tuple[int, bytes]:
    if path == reverse("who-looked") or "access-log" in path or "copy" in path:  # each reading adds a line
        return browser.get(path).status_code, b""
    found = browser.get(path)
    return found.status_code, re.sub(TELLS_TIME, b"", without_token(found))


def test_families_answer_and_coaches_write_under_the_serving_login(scene, signed_in):
    with serving_login():
        family, athlete = signed_in(scene.guardian), signed_in(scene.athlete)
        page = f"/guardian/permissions/{scene.athlete.pk}"
        assert family.get(page).status_code == 200
        for answered in ("no", "yes"):
            path = reverse("permission-answer", kwargs={"role": "guardian", "athlete_id": scene.athlete.pk})
            assert family.post(path, {"purpose": "health", "answer": answered}).status_code == 302
        away = reverse("say-availability", kwargs={"role": "athlete", "session_id": scene.training_session.pk})
        assert athlete.post(away, {"state": "not_today"}).status_code in (302, 400)
        coach = signed_in(scene.coach)
        entry = {
            "id": str(entry_id()), "session": str(scene.training_session.pk),
            "kind": "pain", "athlete": str(scene.athlete.pk), "at": "2027-03-09T17:04:05.123Z",
            "device": "phone-0001", "place": "knee", "words": "after the third",
        }  # fmt: skip
        for expected in ("accepted", "known"):
            answered = coach.post(
                f"/api/v1/sessions/{scene.training_session.pk}/entries",
                {"as": str(scene.coach.pk), "entries": [entry]}, content_type="application/json",
            )  # fmt: skip
            assert [row["answer"] for row in answered.json()["answers"]] == [expected]
        assert tell_pain(entry_id=uuid.UUID(entry["id"])) >= 1
    assert PermissionEvent.objects.filter(athlete=scene.athlete, purpose="health").count() == 4
    assert PainDetail.objects.count() == 3
