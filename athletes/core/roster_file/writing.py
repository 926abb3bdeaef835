"""A roster written as CSV: opens safely in a spreadsheet, and comes back in unchanged."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

from athletes.core.roster_file.columns import Column, guardian_columns, ring_columns
from athletes.core.roster_file.here import Known
from athletes.core.roster_file.safe_text import guarded

MARK = "\ufeff"
"""With this mark at its head spreadsheets read the file as UTF-8 (RFC 3629, section 6)."""
USUAL_GUARDIANS, USUAL_RINGS = 2, 3
MOST_GUARDIANS, MOST_RINGS = 20, 60
"""So many fit into the columns that a file may have."""

_BRACKETS = str.maketrans("()", "[]")


def roster_csv(athletes: Iterable[Known]) -> bytes:
    """The roster with every cell quoted and guarded, lines ended as RFC 4180 says. It has as many columns for guardians
    and numbers as the athlete with the most needs; what is beyond the most that a file takes stays in the club: what a
    file does not say, it does not change."""
    people = list(athletes)
    guardians = max((len(one.guardians) for one in people), default=0)
    rings = max((len(one.rings) for one in people), default=0)
    columns = columns_for(max(guardians, USUAL_GUARDIANS), max(rings, USUAL_RINGS))
    return _written(map(_cells, people), columns)


def template_csv() -> bytes:
    """The usual headings alone, without the key that only a written roster has."""
    return _written((), columns_for(USUAL_GUARDIANS, USUAL_RINGS)[1:])


def columns_for(guardians: int, rings: int) -> list[str]:
    """The headings in the order in which they are written."""
    numbered = [one for n in range(1, min(guardians, MOST_GUARDIANS) + 1) for one in guardian_columns(n)]
    numbered += [one for n in range(1, min(rings, MOST_RINGS) + 1) for one in ring_columns(n)]
    single = [column.value for column in Column]
    place = single.index(Column.COLLECT)
    return [*single[:place], *numbered, *single[place:]]


def _written(rows: Iterable[Mapping[str, str]], columns: Sequence[str]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(columns)
    for cells in rows:
        writer.writerow([guarded(cells.get(column, "")) for column in columns])
    return (MARK + out.getvalue()).encode("utf-8")


def _cells(one: Known) -> dict[str, str]:
    cells: dict[str, str] = {
        Column.KEY: str(one.id),
        Column.GIVEN: one.given,
        Column.FAMILY: one.family,
        Column.BORN: str(one.born or ""),
        Column.SQUAD: one.squad,
        Column.GROUPS: _listed(one.groups),
        Column.EMAIL: one.email,
        Column.PHONE: one.phone,
        Column.COLLECT: _listed([ring.name for ring in one.rings if ring.may_collect]),
        Column.SINCE: "" if one.is_trial else str(one.since or ""),
        Column.COUNTRY: one.country,
    }
    for number, guardian in enumerate(one.guardians, 1):
        name = f"{guardian.family}, {guardian.given}" if guardian.given else guardian.family
        cells |= dict(zip(guardian_columns(number), (name, guardian.phone, guardian.email), strict=True))
    for number, ring in enumerate(one.rings, 1):
        relation = ring.relation.translate(_BRACKETS)
        said = f"{ring.name} ({relation})" if relation or ring.name.endswith(")") else ring.name
        cells |= dict(zip(ring_columns(number), (said, ring.phone), strict=True))
    return cells


def _listed(names: Iterable[str]) -> str:
    """Several in one cell, parted by semicolons; one with a comma in it is ended by one too."""
    plain = [name.replace(";", ",") for name in names]
    return "; ".join(plain) + (";" if len(plain) == 1 and "," in plain[0] else "")
