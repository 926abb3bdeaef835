"""What reads rows about people asks first: doorways read none themselves, functions are told for whom they read,
tasks and commands have their row in the table of doors, and a template makes no query."""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import get_commands
from django.db import connection
from django.template.base import Template
from django.urls import reverse

from athletes.models import Person
from teamtrack.celery import app
from tests.doors import COMMANDS, DOORS, OWN, READS_FOR_NOBODY, TASKS
from tests.entries import make_pain
from tests.people import answer
from tests.test_doors import EVERYBODY, address

ROOT = Path(__file__).resolve().parent.parent
OURS = ("athletes", "sessions")
RANDOM_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
DOORWAYS = ("web", "api", "management", "templatetags")
# Who asks, or a row that the one door gave.
TOLD = {"Viewer", "Part", "Answers", "Circumstances", "Club", "Night", "OwnCalendar", "QuerySet"}


def about_people() -> set[str]:
    """The models that hold a person, or hang on a row that does."""
    rows = {model.__name__: model for model in apps.get_models() if model.__module__.split(".")[0] in OURS}
    found = {"Person"}
    for name, model in rows.items():
        if any(field.concrete and field.related_model is Person for field in model._meta.get_fields()):
            found.add(name)
    return found


PERSONAL = about_people()
TABLES = {model._meta.db_table for model in apps.get_models() if model.__name__ in PERSONAL}
MODEL_NAMES = {model.__name__ for model in apps.get_models()}


def modules(*floors: str) -> Iterator[Path]:
    for top in OURS:
        for floor in floors:
            here = ROOT / top / floor
            yield from [here.with_suffix(".py")] if here.with_suffix(".py").exists() else sorted(here.rglob("*.py"))


def reads_people(node: ast.AST) -> bool:
    """Whether rows about people are touched here by name: through their manager or their table."""
    return any(
        isinstance(one, ast.Attribute)
        and one.attr in ("objects", "_meta", "_base_manager", "_default_manager")
        and isinstance(one.value, ast.Name)
        and one.value.id in PERSONAL
        for one in ast.walk(node)
    )


def through_a_selector() -> bool:
    """Whether our own code (but for models) stands between the template that renders and the query."""
    frame = sys._getframe(2)
    while frame is not None and frame.f_code.co_name != "watched":
        where = Path(frame.f_code.co_filename)
        if where.is_relative_to(ROOT) and where.relative_to(ROOT).parts[0] in OURS and "models" not in where.parts:
            return True
        frame = frame.f_back
    return False


def names_in(node: ast.AST | None) -> set[str]:
    return {one.id for one in ast.walk(node) if isinstance(one, ast.Name)} if node else set()


def unasked(path: Path) -> list[str]:
    """Public functions of a module that read people, by themselves or through the module's own helpers and composed
    queries, without being told for whom, or which row."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    composed = {
        target.id: node
        for node in tree.body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    named: dict[str, ast.AST] = {**functions, **composed}

    def reads(name: str, seen: frozenset[str]) -> bool:
        inside = (names_in(named[name]) & named.keys()) - seen - {name}
        return reads_people(named[name]) or any(reads(one, seen | {name}) for one in inside)

    found = []
    for name, node in functions.items():
        arguments = [*node.args.args, *node.args.kwonlyargs]
        told = set().union(*(names_in(one.annotation) for one in arguments)) & (TOLD | MODEL_NAMES)
        if not name.startswith("_") and not told and reads(name, frozenset()):
            found.append(f"{path.relative_to(ROOT).with_suffix('')}.{name}".replace("/", "."))
    return found


def test_a_doorway_reads_no_row_itself() -> None:
    reading = [path for path in modules(*DOORWAYS, "tasks") if reads_people(ast.parse(path.read_text()))]
    allowed = {ROOT / "sessions/management/commands/demo.py"}  # makes its own club, before anybody is there
    assert set(reading) - allowed == set()


def test_every_function_that_reads_people_is_told_for_whom() -> None:
    found = {name for path in modules("selectors", "services") for name in unasked(path)}
    assert found == set(READS_FOR_NOBODY)


def test_the_check_of_functions_finds_one_that_was_not_told(tmp_path: Path) -> None:
    module = tmp_path / "new.py"
    module.write_text(
        "def _rows(ids):\n    return Person.objects.filter(pk__in=ids)\n\n"
        "def everybody(ids: list[int]):\n    return _rows(ids)\n\n"
        "def for_somebody(viewer: Viewer):\n    return _rows([viewer.person_id])\n"
    )
    global ROOT
    root, ROOT = ROOT, tmp_path
    try:
        assert unasked(module) == ["new.everybody"]
    finally:
        ROOT = root


def test_every_task_and_command_has_its_row() -> None:
    app.loader.import_default_modules()
    assert {name for name in app.tasks if not name.startswith("celery.")} == set(TASKS)
    ours = {name for name, where in get_commands().items() if where.split(".")[0] in (*OURS, "teamtrack")}
    assert ours == set(COMMANDS)


def test_a_task_is_given_an_id_and_nothing_else() -> None:
    app.loader.import_default_modules()
    for name in TASKS:
        given = [one for one in app.tasks[name].run.__annotations__ if one != "return"]
        assert given in ([], ["job_id"]), name


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted((set(DOORS) | OWN) - {"sign-out"}))
def test_a_template_makes_no_query(scene, signed_in, monkeypatch, name) -> None:
    """A template reaches no row through another: what is read while it renders, a selector reads."""
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach,))
    make_pain(scene.training_session, scene.athlete, scene.second_coach)
    asked: list[str] = []
    whole = Template._render

    def watched(template, context):
        def note(execute, sql, params, many, given):
            if set(re.findall(r'(?:FROM|JOIN) "(\w+)"', sql)) & TABLES and not through_a_selector():
                asked.append(sql)
            return execute(sql, params, many, given)

        with connection.execute_wrapper(note):
            return whole(template, context)

    monkeypatch.setattr(Template, "_render", watched)
    for who in EVERYBODY:
        signed_in(getattr(scene, who)).get(address(name, scene))
    assert asked == []


def test_the_addresses_hold_no_name(scene) -> None:
    """What identifies somebody in an address is a random id: no file name, no search text tells who it is about."""
    names = {getattr(scene, who).given_name.lower() for who in EVERYBODY} | {"tester"}
    for name in DOORS:
        place = RANDOM_ID.sub("", address(name, scene).lower())  # an id may hold "ada" by chance
        assert not any(one in place for one in names)
    assert reverse("sign-in") == "/sign-in"
