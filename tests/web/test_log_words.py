"""Every act that the product logs has words for whoever reads the log: no code reaches a person."""

import ast
from pathlib import Path

import pytest
from django.db import transaction

from athletes.access import ASKED
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Correction, KeptKind, PermissionEvent
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.erase import ERASED
from athletes.services.steps import TABLES
from athletes.viewer import SERVER, server_viewer
from athletes.web.access_log import KIND_WORDS, ROLE_WORDS, VERB_WORDS
from sessions.models import DraftStep, EntryKind
from sessions.services import change_season

ROOT = Path(__file__).resolve().parents[2]
ANSWERS = PermissionEvent.Answer.values
TOLD_BY_A_VARIABLE = {
    ("heard_answers", "signed.answer"): ANSWERS,
    ("heard_answers", "signed.purpose"): ASKED,
    ("record_permission", "answer.value"): ANSWERS,
    ("record_permission", "purpose"): ASKED,
    ("answer_view", "answer.value"): ANSWERS,
    ("erase", "kind"): ERASED,
    ("keep", "step.kind"): KeptKind.values,
    ("make_week", "DraftStep.What.MADE.value"): [DraftStep.What.MADE],
    ("week_draft", "turn.what.value"): DraftStep.What.values,
    ("corrections", "wanted.what"): Correction.What.values,
    ("record_entries", "EntryKind(kind)"): EntryKind.values,
    ("read_entries", "EntryKind.PAIN"): [EntryKind.PAIN],
    ("read_health_notes", "EntryKind.PAIN"): [EntryKind.PAIN],
    ("second_factor", "verb"): ["set", "removed"],
    ("worked_rows", "kind"): ["proposal", "rehearsal"],
    ("ask_to_stop", "verb"): ["ask", "take_back"],
    ("put_right", "verb"): ["correct", "withdraw"],
    ("put_right", "EntryKind(row.kind)"): EntryKind.values,
    ("put_right", "EntryKind.PAIN"): [EntryKind.PAIN],
    ("steps", "verb"): ["added", "changed", "removed"],
    ("steps", "table"): TABLES,
    ("change_season", "_VERBS[what]"): change_season._VERBS.values(),
    ("evenings", "verb"): ["made", "removed", "set"],
    ("evenings", "kind"): ["coach_absence", "coach_evenings", "coach_settings"],
}
"""What may stand in a line where the code does not say it in place: by module and expression."""


def logged():
    """Module, verb and kind of every line that the code writes, as syntax."""
    for path in [*(ROOT / "athletes").rglob("*.py"), *(ROOT / "sessions").rglob("*.py")]:
        for call in ast.walk(ast.parse(path.read_text())):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "Act":
                named = {word.arg: word.value for word in call.keywords}
                verb, kind = [*call.args[:2], *(named[name] for name in ("verb", "kind")[len(call.args[:2]) :])]
                yield path.stem, verb, kind


def values(module, node):
    """What an expression may be; one that nobody has named fails here."""
    if isinstance(node, ast.Constant):
        return {node.value}
    return {str(one) for one in TOLD_BY_A_VARIABLE[module, ast.unparse(node)]}


def test_every_act_has_words():
    acts = list(logged())
    assert len(acts) > 20
    for module, verb, kind in acts:
        assert values(module, verb) - VERB_WORDS.keys() == set(), module
        assert values(module, kind) - KIND_WORDS.keys() == set(), module


def test_every_expression_named_here_is_written_somewhere():
    written = {
        (module, ast.unparse(node))
        for module, *nodes in logged()
        for node in nodes
        if not isinstance(node, ast.Constant)
    }
    assert TOLD_BY_A_VARIABLE.keys() == written


def test_every_role_has_words():
    assert set(Role.values) | {SERVER, ActingRole.EMERGENCY_ACCESS} == ROLE_WORDS.keys()


@pytest.mark.django_db
def test_the_server_is_named_as_itself(scene, signed_in):
    with transaction.atomic():
        acts = [Act("removed", kind) for kind in KeptKind.values] + [Act("restored", "ledger")]
        log_acts(viewer=server_viewer(scene.club), acts=acts)
    page = signed_in(scene.admin).get("/admin/access-log").content.decode()
    assert "The server" in page and "by itself" in page and "repeated after a restore" in page
    for nothing_said in ("another role", "no longer linked", "something kept", "worked on"):
        assert nothing_said not in page
