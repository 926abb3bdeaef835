"""A record is put right by an admin: what changed is shown, told to the log without its contents, and undone."""

import re
from datetime import date, timedelta

import pytest

from athletes.access import answers_for
from athletes.models import AccessLogEntry, ContactNumber, Correction, DataRequest, Guardianship, Person
from athletes.selectors.access_log import chain_fault
from athletes.selectors.signatures import signers
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from tests.people import answer, link_guardian

ROW = re.compile(
    r'name="what" value="(\w+)"><input type="hidden" name="row" value="([\w-]+)">.*?name="shown" value="([^"]+)"'
)


class Desk:
    """The admin's page of one record, as a browser holds it."""

    def __init__(self, client, person):
        self.client, self.address = client, f"/admin/people/{person.pk}"
        self.load()

    def load(self, query=""):
        self.page = self.client.get(self.address + query).content.decode()
        self.rows = {(what, row): shown for what, row, shown in ROW.findall(self.page)}

    def save(self, what, row, typed, **more):
        prefix = str(row.pk).replace("-", "")
        fields = {f"{prefix}-{name}": value for name, value in typed.items()}
        shown = self.rows[what, str(row.pk)]
        return self.client.post(self.address + "/change", fields | {"what": what, "row": row.pk, "shown": shown} | more)


def person_fields(person, **changed):
    fields = {
        "given_name": person.given_name, "family_name": person.family_name, "birth_date": person.birth_date,
        "home_country": person.home_country, "email": person.email, "phone": person.phone,
    } | changed  # fmt: skip
    return {name: "" if value is None else str(value) for name, value in fields.items()}


def born(scene, age):
    return date(today_in(scene.club.timezone).year - age, 1, 1)


def may(scene, who, athlete, purpose):
    athlete.refresh_from_db()
    viewer = viewer_for(who, "coach")
    return answers_for(viewer=viewer, athletes=[athlete], purposes=[purpose]).may(athlete.pk, purpose)


def told(client, address):
    return client.get(address).content.decode()


def test_a_name_is_put_right_as_a_request_asks_and_undone(scene, signed_in):
    request = DataRequest.objects.create(
        club=scene.club, athlete=scene.child, asked_by=scene.guardian, capacity="guardian", kind="correction",
        what="record", words="Ivo with a v, please.", received_on=born(scene, 0), due_on=born(scene, 0), code="ERASE",
        entered_by=scene.guardian,
    )  # fmt: skip
    admin = signed_in(scene.admin)
    where = f"/admin/people/{scene.child.pk}?request={request.pk}"
    assert where in told(admin, f"/admin/requests/{request.pk}")
    desk = Desk(admin, scene.child)
    desk.load(f"?request={request.pk}")
    assert "Ivo with a v, please." in desk.page
    saved = desk.save("person", scene.child, person_fields(scene.child, given_name="Ivor"), request=request.pk)
    assert (saved.status_code, saved["Location"]) == (302, where)
    scene.child.refresh_from_db()
    assert scene.child.given_name == "Ivor"
    [done] = Correction.objects.all()
    assert (done.before, done.after, done.by, done.request) == (
        {"given_name": "Ivo"}, {"given_name": "Ivor"}, scene.admin, request,
    )  # fmt: skip
    line = AccessLogEntry.objects.get(verb="correct")
    assert (line.kind, line.fields, line.actor_role) == ("person", ["given_name"], "admin")
    desk.load()
    assert "Ivo → Ivor" in desk.page
    assert "Ivo → Ivor" in told(admin, f"/admin/requests/{request.pk}")
    assert admin.post(f"{desk.address}/undo/{done.pk}").status_code == 302
    scene.child.refresh_from_db()
    assert scene.child.given_name == "Ivo"
    assert admin.post(f"{desk.address}/undo/{done.pk}").status_code == 409, "it does not stand any more"
    assert chain_fault(club_id=scene.club.pk) is None


def test_a_corrected_birth_date_decides_anew_who_has_to_answer(scene, signed_in):
    """Tam said yes as an adult of 21; he is 15: the yes is a part, a guardian has to answer too; undone it holds."""
    tam = scene.adult_athlete
    link_guardian(scene.guardian, tam)
    answer(tam, tam, names=(scene.coach,))
    answer(tam, tam, "share", names=(scene.other_coach,))
    assert may(scene, scene.coach, tam, "health")
    admin = signed_in(scene.admin)
    desk = Desk(admin, tam)
    saved = desk.save("person", tam, person_fields(tam, birth_date=born(scene, 15)))
    page = told(admin, saved["Location"])
    assert "until it is answered anew: pain notes, other coaches" in page
    assert not may(scene, scene.coach, tam, "health")
    assert not may(scene, scene.other_coach, tam, "share"), "said under the digital age it is the child's view alone"
    waits = {row.person.given_name: {one.purpose for one in row.missing if one.athlete == tam} for row in _rows(scene)}
    assert waits["Greta"] == {"health", "share", "feed"}
    assert "a birth date" not in page
    undone = admin.post(f"{desk.address}/undo/{Correction.objects.get().pk}")
    assert "holds for this again: pain notes, other coaches" in told(admin, undone["Location"])
    assert may(scene, scene.coach, tam, "health")
    assert Correction.objects.count() == 2


def _rows(scene):
    return signers(viewer_for(scene.admin, "admin"))


def test_who_saves_second_is_shown_what_changed_and_keeps_what_was_typed(scene, signed_in):
    admin = signed_in(scene.admin)
    mine, other = Desk(admin, scene.child), Desk(signed_in(scene.admin), scene.child)
    assert other.save("person", scene.child, person_fields(scene.child, phone="111")).status_code == 302
    refused = mine.save("person", scene.child, person_fields(scene.child, phone="222"))
    assert refused.status_code == 409
    assert 'value="222"' in refused.content.decode() and "– → 111" in refused.content.decode()
    assert Person.objects.get(pk=scene.child.pk).phone == "111"
    twice = other.save("person", scene.child, person_fields(scene.child, phone="111"))
    assert (twice.status_code, Correction.objects.count()) == (409, 1), "a second press changes nothing"


def test_numbers_to_ring_are_added_changed_taken_off_and_brought_back(scene, signed_in):
    admin = signed_in(scene.admin)
    desk = Desk(admin, scene.child)
    new = {"new-name": "Gus Tester", "new-relation": "uncle", "new-phone": "0123", "new-may_collect": "on"}
    assert admin.post(desk.address + "/change", new | {"what": "contact"}).status_code == 302
    number = ContactNumber.objects.get(athlete=scene.child)
    desk.load()
    typed = {"name": "Gus Tester", "relation": "uncle", "phone": "0999"}
    assert desk.save("contact", number, typed).status_code == 302
    number.refresh_from_db()
    assert (number.phone, number.may_collect) == ("0999", False)
    desk.load()
    assert desk.save("contact", number, {}, remove="yes").status_code == 302
    assert not ContactNumber.objects.exists()
    gone = Correction.objects.get(after__isnull=True)
    assert admin.post(f"{desk.address}/undo/{gone.pk}").status_code == 302
    again = ContactNumber.objects.get()
    assert (again.pk, again.name, again.phone) == (number.pk, "Gus Tester", "0999")
    assert admin.post(desk.address + "/change", new | {"what": "contact", "new-phone": ""}).status_code == 400


def test_authority_counts_at_once_and_nobody_changes_it_in_the_own_case(scene, signed_in):
    answer(scene.child, scene.guardian, names=(scene.coach,))
    link = Guardianship.objects.get(guardian=scene.guardian, athlete=scene.child)
    desk = Desk(signed_in(scene.admin), scene.child)
    limited = {"authority": "limited", "papers_seen_on": "", "last_day": ""}
    unseen = desk.save("guardian", link, limited)
    assert unseen.status_code == 400 and "on which day you saw the papers" in unseen.content.decode()
    today = today_in(scene.club.timezone)
    assert desk.save("guardian", link, limited | {"papers_seen_on": str(today)}).status_code == 302
    link.refresh_from_db()
    assert (link.papers_seen_on, link.papers_seen_by) == (today, scene.admin)
    assert f"by {scene.admin.full_name}" in desk.client.get(desk.address).content.decode()
    assert not may(scene, scene.coach, scene.child, "health")
    link_guardian(scene.admin, scene.child, authority="unverified")
    own = Guardianship.objects.get(guardian=scene.admin)
    desk.load()
    refused = desk.save("guardian", own, limited | {"authority": "full", "papers_seen_on": str(today)})
    assert refused.status_code == 400 and "another admin has to change it" in refused.content.decode()
    young = desk.save("person", scene.child, person_fields(scene.child, birth_date=born(scene, 20)))
    assert young.status_code == 400
    assert desk.save("person", scene.child, person_fields(scene.child, phone="1")).status_code == 302


@pytest.mark.parametrize(
    "wrong", [{"given_name": " "}, {"birth_date": "2999-01-01"}, {"birth_date": "1801-01-01"}, {"home_country": "Eire"}]
)
def test_what_cannot_be_is_refused_and_what_was_typed_stays(scene, signed_in, wrong):
    desk = Desk(signed_in(scene.admin), scene.child)
    refused = desk.save("person", scene.child, person_fields(scene.child, phone="0456") | wrong)
    assert refused.status_code == 400 and 'value="0456"' in refused.content.decode()
    assert not Correction.objects.exists()


def test_of_a_guardian_the_page_shows_no_other_guardian_and_a_stranger_s_row_is_not_there(scene, signed_in):
    admin = signed_in(scene.admin)
    page = Desk(admin, scene.guardian).page
    assert scene.child.full_name in page and "Carla" not in page
    desk = Desk(admin, scene.child)
    link = Guardianship.objects.get(guardian=scene.guardian, athlete=scene.athlete)
    desk.rows["guardian", str(link.pk)] = ""
    assert desk.save("guardian", link, {"authority": "full", "last_day": ""}).status_code == 404
    other = DataRequest.objects.get(pk=scene.data_request.pk)
    assert admin.get(f"{desk.address}?request={other.pk}").status_code == 404
    Guardianship.objects.filter(guardian=scene.guardian).update(last_day=born(scene, 0) - timedelta(days=400))
    assert admin.get(f"/admin/people/{scene.guardian.pk}").status_code == 404
