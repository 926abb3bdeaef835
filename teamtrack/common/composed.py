"""Queries written in the ORM and composed into SQL once a process: each call only fills in its values."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cached_property, lru_cache
from typing import Any, Generic, TypeVar
from uuid import UUID

from django.core.exceptions import EmptyResultSet
from django.db import connection, transaction
from django.db.models import Field, Model, QuerySet, Value
from django.db.models.query import get_related_populators

M = TypeVar("M", bound=Model)


class Given(Value):
    """The place of a value in a composed query, to be filled in at each call; `field` says how it is kept."""

    def __init__(self, name: str, field: "Field[Any, Any]") -> None:
        super().__init__(name, output_field=field)

    def as_sql(self, compiler: object, connection: object) -> tuple[str, list[Any]]:
        return "%s", [self]


class Composed(Generic[M]):
    """A query for rows of one model, with what it selects beside them; `build` writes it with `Given` places.

    What a database is asked does not change between calls, but for the values; only composing it is saved.
    """

    def __init__(self, build: Callable[[], QuerySet[M]]) -> None:
        self._build = build

    def rows(self, **values: object) -> list[M]:
        """The rows for these values."""
        return [self._composed.instance(row) for row in self._composed.found(values)]

    def first(self, **values: object) -> M | None:
        """The first of the rows, None where there is none."""
        return next(iter(self.rows(**values)), None)

    @cached_property
    def _composed(self) -> "_Statement[M]":
        return _Statement(self._build())


class ComposedAmong(Generic[M]):
    """A query for rows of one model that belong to some ids: composed once for each number of them, rounded up to a
    power of two. `build` gets their places, to stand in an `…__pk__in`."""

    def __init__(self, build: Callable[[list[Given]], QuerySet[M]], field: "Field[Any, Any]") -> None:
        self._build, self._field = build, field
        self._of_number: dict[int, Composed[M]] = {}

    def rows(self, ids: Collection[object], **values: object) -> list[M]:
        """The rows for these ids and values; no query where there is no id."""
        if not ids:
            return []
        number = 1 << (len(ids) - 1).bit_length()
        if number not in self._of_number:
            places = [Given(f"id_{place}", self._field) for place in range(number)]
            self._of_number[number] = Composed(lambda: self._build(places))
        filled = [*ids, *[next(iter(ids))] * (number - len(ids))]
        return self._of_number[number].rows(**values, **{f"id_{place}": one for place, one in enumerate(filled)})


class ComposedValues:
    """A query of `values_list`, one or several joined by `union`: its rows are tuples."""

    def __init__(self, build: Callable[[], QuerySet[Any, Any]]) -> None:
        self._build = build

    def rows(self, **values: object) -> list[tuple[Any, ...]]:
        """The rows for these values."""
        return [tuple(self._composed.converted(row)) for row in self._composed.found(values)]

    @cached_property
    def _composed(self) -> "_Statement[Any]":
        return _Statement(self._build())


def values_of(rows: QuerySet[Any, Any]) -> list[tuple[Any, ...]]:
    """The rows of a `values_list`, composed this once; each id is made once a process, not once a row."""
    try:
        statement: _Statement[Any] = _Statement(rows)
    except EmptyResultSet:
        return []
    return [tuple(statement.converted(row)) for row in statement.found({})]


class _Statement(Generic[M]):
    """The SQL of a query, and how a row of its answer becomes an instance with its relations."""

    def __init__(self, rows: QuerySet[M, Any]) -> None:
        compiler = rows.query.get_compiler(connection=connection)
        self._statement, params = compiler.as_sql()
        self._params = list(params)
        converters = compiler.get_converters([column[0] for column in compiler.select[: compiler.col_count]])
        self._converters = {place: (list(map(_quick, those)), one) for place, (those, one) in converters.items()}
        info = compiler.klass_info
        if info is None:
            return
        self._model = info["model"]
        self._first, self._last = info["select_fields"][0], info["select_fields"][-1] + 1
        self._names = [column[0].target.attname for column in compiler.select[self._first : self._last]]
        self._annotated = compiler.annotation_col_map
        self._populators = get_related_populators(info, compiler.select, connection.alias)

    def found(self, values: Mapping[str, object]) -> list[tuple[Any, ...]]:
        """The rows as the database gives them."""
        params = [
            one.field.get_db_prep_value(values[one.value], connection) if isinstance(one, Given) else one
            for one in self._params
        ]
        return planned_rows(self._statement, params)

    def converted(self, row: tuple[Any, ...]) -> list[Any]:
        values = list(row)
        for place, (converters, expression) in self._converters.items():
            for converter in converters:
                values[place] = converter(values[place], expression, connection)
        return values

    def instance(self, row: tuple[Any, ...]) -> M:
        values = self.converted(row)
        found = self._model.from_db(connection.alias, self._names, values[self._first : self._last])
        for populator in self._populators:
            populator.populate(values, found)
        for name, place in self._annotated.items():
            setattr(found, name, values[place])
        return found


def _quick(converter: Callable[..., Any]) -> Callable[..., Any]:
    """The same converter; where ids are kept as text, one that makes each id once."""
    is_of_ids = converter == getattr(connection.ops, "convert_uuidfield_value", None)
    return _read_id if is_of_ids else converter


def _read_id(text: str | None, _expression: object, _connection: object) -> UUID | None:
    return None if text is None else _id_of(text)


@lru_cache(maxsize=10_000)
def _id_of(text: str) -> UUID:
    return UUID(text)


def hold_related(row: Model, name: str, related: Sequence[Model], among: QuerySet[Any]) -> None:
    """What `row.<name>.all()` gives without a query, as after `prefetch_related`; `among` is a query of their model."""
    rows = type(among)(among.model, among.query, among.db)  # shares the query: only a further filter copies it
    rows._result_cache, rows._prefetch_done = list(related), True  # type: ignore[attr-defined]
    row.__dict__.setdefault("_prefetched_objects_cache", {})[name] = rows


def planned_rows(statement: str, values: Sequence[object] | Mapping[str, object]) -> list[tuple[Any, ...]]:
    """The rows that a statement gives whose text hardly ever changes: PostgreSQL parses and plans it once a connection,
    which costs more than most of them do."""
    return planned_rows_later(statement, values)()


def planned_rows_later(
    statement: str, values: Sequence[object] | Mapping[str, object]
) -> Callable[[], list[tuple[Any, ...]]]:
    """The same, read when asked for, so that inside `written_together` it need not be waited for; SQLite is read at
    once, since it opens no savepoint beside an unread answer."""
    if connection.vendor != "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(statement, values)
            rows = cursor.fetchall()
        return lambda: rows
    cursor = _planning_cursor()
    cursor.execute(statement, values)
    return cursor.fetchall  # type: ignore[no-any-return]


def _planning_cursor() -> Any:
    """A cursor that sends the values beside the statement; Django's usual one writes them into it, and a log of what
    was asked shows them there."""
    if connection.vendor != "postgresql" or connection.queries_logged:
        return connection.cursor()
    from django.db.backends.postgresql.base import ServerBindingCursor

    connection.ensure_connection()
    return connection._prepare_cursor(ServerBindingCursor(connection.connection))


@contextmanager
def written_together() -> Iterator[None]:
    """A transaction in which PostgreSQL gets a statement whose answer is not read together with the next one whose
    answer is, and the last of them together with the commit.

    Each way to the database and back costs about as much as the work there. A fault of a statement whose answer is not
    read shows at the next one, or at the commit, which then is none.
    """
    if connection.vendor != "postgresql":
        with transaction.atomic():
            yield
        return
    connection.ensure_connection()
    with connection.wrap_database_errors, connection.connection.pipeline() as pipeline, transaction.atomic():
        yield
        if connection.savepoint_ids:
            pipeline.sync()  # inside another transaction nothing is committed here: its savepoint meets a late fault


def write_rows(statement: str, rows: Sequence[Sequence[object]]) -> None:
    """Run a statement for each of some rows of values as the database keeps them; it is planned once a connection."""
    with _planning_cursor() as cursor:
        if len(rows) == 1:
            cursor.execute(statement, rows[0])
        else:
            cursor.executemany(statement, rows)
