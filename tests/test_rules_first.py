"""No real person's data before the club's rules are confirmed: whatever adds such a row asks the guard first."""

import ast

import pytest

from athletes.models import PermissionEvent, RulesConfirmed
from athletes.services.answer_view import answer_view
from athletes.services.consents import confirm_rules
from athletes.services.record_permission import answer_permission, withdraw_permission
from athletes.services.rules import RULES_FIRST, confirmed_first
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from teamtrack.common.errors import Refused
from tests.people import answer
from tests.test_reads_ask import ROOT, modules, names_in

ADDED = {"Person", "Membership", "Guardianship", "ContactNumber", "PermissionEvent", "BroughtItem"}
# Services that add such a row without asking, and why that is right.
WITHOUT_ASKING = {
    "athletes.services.first_start.begin_real_club": "the first admin, who sees that the rules are confirmed",
    "athletes.services.answer_view.take_back_view": "says again what was said before",
    "athletes.services.consents.take_back_papers": "says again what was said before",
    "athletes.services.copies.bring_copy": "of a member: whoever was added was added after the rules were confirmed",
    "athletes.services.people.bring_back": "in the transaction of a caller that has asked",
    "athletes.services.people.let_join": "in the transaction of a caller that has asked",
    "athletes.services.record_permission.withdraw_permission": "a stop waits for nothing",
}
# Modules that end what was allowed, or say again that it ended: nothing of them waits.
ENDING = ("athletes.services.erase.", "athletes.services.stops.")


def adds(node):
    """Whether rows are made here: through a manager, or as a new object."""
    for one in ast.walk(node):
        if not isinstance(one, ast.Call):
            continue
        called = one.func
        if isinstance(called, ast.Name) and called.id in ADDED:
            return True
        if isinstance(called, ast.Attribute) and called.attr.removeprefix("bulk_") in (
            "create", "get_or_create", "update_or_create",
        ):  # fmt: skip
            owner = called.value
            if isinstance(owner, ast.Attribute) and isinstance(owner.value, ast.Name) and owner.value.id in ADDED:
                return True
    return False


def unasked(path):
    """Public functions that add, by themselves or through the module's own helpers, and never ask the guard."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}

    def reached(name, seen):
        for one in (names_in(functions[name]) & functions.keys()) - seen:
            seen = reached(one, seen | {one})
        return seen

    found = []
    for name in functions:
        inside = [functions[one] for one in reached(name, {name})]
        asks = any("confirmed_first" in names_in(node) for node in inside)
        if not name.startswith("_") and not asks and any(adds(node) for node in inside):
            found.append(f"{path.relative_to(ROOT).with_suffix('')}.{name}".replace("/", "."))
    return found


def test_every_service_that_adds_a_person_s_data_asks_first():
    found = {name for path in modules("services") for name in unasked(path)}
    assert {name for name in found if not name.startswith(ENDING)} == set(WITHOUT_ASKING)


def test_the_check_finds_one_that_does_not_ask(tmp_path, monkeypatch):
    module = tmp_path / "new.py"
    module.write_text(
        "def _rows(names):\n    Person.objects.bulk_create(Person(given_name=one) for one in names)\n\n"
        "def add(names):\n    _rows(names)\n\n"
        "def add_after(club, names):\n    confirmed_first(club)\n    _rows(names)\n\n"
        "def count(club):\n    return Person.objects.filter(club=club).count()\n"
    )
    monkeypatch.setattr("tests.test_rules_first.ROOT", tmp_path)
    assert unasked(module) == ["new.add"]


@pytest.fixture
def real(scene, settings):
    """The scene's club as one of real people: no demo, and nobody has confirmed its rules."""
    settings.DEMO = False
    RulesConfirmed.objects.create(
        club=scene.stranger_club, book="europe", country="IE", digital_age=16, by_name="Sten Tester",
        confirmed_on=today_in(scene.club.timezone), entered_by=scene.stranger,
    )  # fmt: skip
    return scene


def test_another_club_s_word_is_not_ours_and_the_demo_needs_none(real, settings):
    confirmed_first(real.stranger_club)
    with pytest.raises(Refused) as refused:
        confirmed_first(real.club)
    assert refused.value.code == RULES_FIRST
    settings.DEMO = True
    confirmed_first(real.club)


def test_on_the_pages_the_refusal_says_what_to_do_and_a_stop_goes_through(real, signed_in):
    answer(real.child, real.guardian, "feed", "yes")
    guardian, admin = signed_in(real.guardian), signed_in(real.admin)
    before = PermissionEvent.objects.count()
    asked = (
        guardian.post(f"/guardian/permissions/{real.child.pk}/answer", {"purpose": "health", "answer": "yes"}),
        admin.post(f"/admin/consents/{real.guardian.pk}/typed", {f"{real.child.pk} health": "yes"}),
        signed_in(real.athlete).post(
            "/athlete/permissions/guardians", {"guardian": real.guardian.pk, "what": "health", "answer": "yes"}
        ),
        admin.post(f"/admin/consents/{real.guardian.pk}/print"),
        admin.post("/admin/consents/print"),
    )
    for answered in asked:
        assert answered.status_code == 400
        assert "a named person of the club confirms its rules" in answered.content.decode()
    assert PermissionEvent.objects.count() == before
    stopped = guardian.post(f"/guardian/permissions/{real.child.pk}/stop", {"purpose": "feed"})
    assert stopped.status_code == 302
    assert PermissionEvent.objects.order_by("at").last().answer == "withdrawn"


def test_once_confirmed_by_name_it_is_taken(real):
    viewer = viewer_for(real.guardian, "guardian")
    own = viewer_for(real.athlete, "athlete")
    with pytest.raises(Refused):
        answer_permission(viewer=viewer, athlete_id=real.child.pk, purpose="health", answer="yes")
    with pytest.raises(Refused):
        answer_view(viewer=own, guardian_id=real.guardian.pk, what="health", answer="yes")
    assert answer_permission(viewer=viewer, athlete_id=real.child.pk, purpose="health", answer="no").answer == "no"
    assert answer_view(viewer=own, guardian_id=real.guardian.pk, what="feedback", answer="no").answer == "no"
    withdraw_permission(viewer=viewer, athlete_id=real.child.pk, purpose="health")
    confirm_rules(viewer=viewer_for(real.admin, "admin"), book="europe", by_name="Wilma Tester")
    assert answer_permission(viewer=viewer, athlete_id=real.child.pk, purpose="health", answer="yes").answer == "yes"
    assert answer_view(viewer=own, guardian_id=real.guardian.pk, what="health", answer="yes").answer == "yes"
