"""One operation that makes all tables of an app at once.

Django draws every model that is related to a new one anew, for each table made; where most rows belong to one club that
takes seconds at each first start. Here the models are drawn once.
"""

from collections.abc import Sequence

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class CreateTables(Operation):
    """The tables of new models, with the fields, indexes and constraints that later `operations` give them."""

    def __init__(self, operations: Sequence[Operation]) -> None:
        self.operations = operations

    @property
    def _names(self) -> list[str]:
        return [one.name for one in self.operations if isinstance(one, CreateModel)]

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        state.__dict__.pop("apps", None)  # drawn again, once, when it is next asked for
        for one in self.operations:
            one.state_forwards(app_label, state)

    def database_forwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        for name in self._names:
            model = to_state.apps.get_model(app_label, name)
            if self.allow_migrate_model(schema_editor.connection.alias, model):
                schema_editor.create_model(model)

    def database_backwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        for name in reversed(self._names):
            model = from_state.apps.get_model(app_label, name)
            if self.allow_migrate_model(schema_editor.connection.alias, model):
                schema_editor.delete_model(model)

    def describe(self) -> str:
        return f"Create {len(self._names)} tables"
