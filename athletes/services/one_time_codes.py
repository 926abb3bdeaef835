"""One-time codes on paper, whatever they open: made, found by what was typed, dead when used or after ten wrong."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, TypeVar

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from athletes.core.form_codes import ALPHABET, FIRST_NUMBER, LAST_NUMBER, SECRET_LENGTH, FormCode, read_code
from athletes.core.permissions.facts import Purpose
from athletes.core.permissions.keeping import PERIOD_DAYS
from athletes.core.tries import PLACE
from athletes.models.codes import OneTimeCode
from athletes.services.tries import counted, key_of
from athletes.viewer import Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Refused

GOOD_FOR = timedelta(days=PERIOD_DAYS[Purpose.INVITATION])
MOST_TRIES = 10
"""Wrong codes after which a paper is dead (common practice, no source)."""

Code = TypeVar("Code", bound=OneTimeCode)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A secret drawn by chance, and what is kept of it."""

    secret: str
    code_hash: str


def draw_secrets(count: int) -> list[Drawn]:
    """So many secrets with their slow hashes: before a transaction, so that no other act of the club waits for them."""
    texts = ("".join(secrets.choice(ALPHABET) for _ in range(SECRET_LENGTH)) for _ in range(count))
    return [Drawn(text, make_password(text)) for text in texts]


def add_codes(
    model: type[Code], *, viewer: Viewer, drawn: Sequence[Drawn], columns: Sequence[dict[str, Any]]
) -> list[tuple[Code, FormCode]]:
    """A row with a code for each of `columns`, the codes told this once; in the caller's transaction."""
    now, numbers = utc_now(), _free_numbers(model, len(columns))
    rows = [
        model(
            club_id=viewer.club_id, number=number, code_hash=one.code_hash, made_at=now, made_by=viewer.person,
            good_until=now + GOOD_FOR, **own,
        )
        for number, one, own in zip(numbers, drawn, columns, strict=True)
    ]  # fmt: skip
    model._base_manager.bulk_create(rows)
    return [(row, FormCode(row.number, one.secret)) for row, one in zip(rows, drawn, strict=True)]


def end_codes(rows: QuerySet[Code]) -> int:
    """These open nothing any more; in the caller's transaction."""
    return rows.filter(used_at=None).update(used_at=utc_now())


def row_by_code(rows: QuerySet[Code], *, typed: str, place: str) -> Code | None:
    """The living row whose secret this is; a wrong one is counted. The same work whatever the row is like.

    Raises Wait where too many wrong codes came from the place.
    """
    with counted({key_of("code", place): PLACE}) as one:
        found = _matching(rows, typed)
        one.was_right = found is not None
    return found


def is_open(row: OneTimeCode, now: datetime) -> bool:
    """Whether it still opens something."""
    return row.used_at is None and now < row.good_until


def wrong_code() -> Refused:
    """One sentence for all that a code can lack."""
    return Refused(
        "WRONG_CODE", _("This code opens nothing: it may be mistyped, used, or too old. Please ask your club.")
    )


@transaction.atomic
def _matching(rows: QuerySet[Code], typed: str) -> Code | None:
    code = read_code(typed)
    row = rows.select_for_update(of=("self",)).filter(number=code.number).first() if code else None
    if row is None or code is None:
        make_password(typed[:SECRET_LENGTH])
    elif check_password(code.secret, row.code_hash) and row.tries < MOST_TRIES:
        return row
    else:
        rows.model._base_manager.filter(pk=row.pk, tries__lt=MOST_TRIES).update(tries=row.tries + 1)
    return None


def _free_numbers(model: type[OneTimeCode], count: int) -> list[int]:
    """So many numbers that no row has; one that somebody takes meanwhile is refused by the table."""
    found: set[int] = set()
    while len(found) < count:
        drawn = {FIRST_NUMBER + secrets.randbelow(LAST_NUMBER - FIRST_NUMBER + 1) for _ in range(count - len(found))}
        found |= drawn - set(model._base_manager.filter(number__in=drawn).values_list("number", flat=True))
    return list(found)
