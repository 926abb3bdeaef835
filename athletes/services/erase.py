"""Takes away what an athlete has of one kind, because it was asked for; and repeats the ledger after a restore."""

from collections.abc import Callable, Collection
from uuid import UUID

from django.db import transaction

from athletes.health_key import destroy_key
from athletes.models import Club, HealthKey, KeptKind, LedgerLine, Person
from athletes.services.access_log import Act, log_acts
from athletes.services.closings import close_again, is_closing, without_notes
from athletes.services.erase_on_request import register_eraser
from athletes.services.health_keys import DESTROYED
from athletes.services.keepers import Ids, all_keepers, keeper_named, people_of
from athletes.services.ledger import STOPPED, Why, note_removed
from athletes.services.stops import NARROWED, RULES, WORDED, say_again
from athletes.viewer import Viewer, server_viewer
from teamtrack.common.row_security import rows_open

ERASED = (
    KeptKind.HEALTH, KeptKind.FEEDBACK, KeptKind.RECORD, KeptKind.PLAN, KeptKind.ATTENDANCE, KeptKind.LOG,
    KeptKind.AVAILABILITY,
)  # fmt: skip
OF_ANSWERS = (STOPPED, NARROWED, WORDED, RULES)
NEVER_BACK: list[Callable[[UUID, str, Ids], None]] = []
"""What is to remember ids that must not come back from a phone; called before the rows go."""


def register_all() -> None:
    """Called once, when the app is ready."""
    for kind in ERASED:
        register_eraser(kind, _eraser(kind))


def _eraser(kind: str) -> Callable[[Viewer, Person], None]:
    return lambda viewer, athlete: erase_kind(viewer=viewer, athlete=athlete, kind=kind)


@transaction.atomic
def erase_kind(*, viewer: Viewer, athlete: Person, kind: str) -> int:
    """Take away all that is kept of an athlete as `kind`; whoever calls has the decision. Answers how many rows went.

    Rows, ledger and access log stand or fall together; keys of health text are destroyed after the commit.
    """
    removed, gone = 0, dict[str, Ids]()
    with rows_open(club_id=viewer.club_id, people=people_of(viewer.club_id)):
        for keeper in all_keepers():
            if keeper.kind != kind or not keeper.whose or keeper.name == "people_gone":
                continue
            ids = list(keeper.rows(viewer.club_id).filter(**{keeper.whose: athlete.pk}).values_list("pk", flat=True))
            if ids:
                _remember(viewer.club_id, keeper.name, ids)
                keeper.take_away(viewer.club_id, ids)
                gone[keeper.name] = ids
        for name, ids in gone.items():
            note_removed(club_id=viewer.club_id, what=name, why=Why.ASKED, by_person={athlete.pk: ids})
            removed += len(ids)
    log_acts(viewer=viewer, acts=[Act("removed", kind, athlete.pk, (str(removed),), "ERASE")])
    return removed


def _remember(club_id: UUID, keeper: str, ids: Ids) -> None:
    for remember in NEVER_BACK:
        remember(club_id, keeper, ids)


@transaction.atomic
def repeat_ledger(*, since_backup: Collection[UUID]) -> int:
    """Take away again what the ledger says is gone, stop again what was stopped, close again what was closed; answers
    how many lines. What the backup knows already, closings and answers among `since_backup` not, stands in its rows.

    In the restore's own transaction, so that nobody sees a row that had gone. Safe to run twice.
    """
    done = 0
    for club in Club.objects.order_by("id"):
        closed: dict[tuple[str, str], LedgerLine] = {}
        with rows_open(club_id=club.pk, people=people_of(club.pk)), without_notes():
            for line in list(LedgerLine.objects.filter(club=club).order_by("at", "id")):
                if is_closing(line.what):
                    closed[line.what, line.ids[0]] = line
                elif line.what not in OF_ANSWERS or line.pk in since_backup:
                    _repeat(line)
                done += 1
            for line in closed.values():
                if line.pk in since_backup:
                    close_again(line)
        log_acts(viewer=server_viewer(club), acts=[Act("restored", "ledger", fields=(str(done),))])
    return done


def _repeat(line: LedgerLine) -> None:
    if line.what == DESTROYED:
        HealthKey.objects.filter(pk__in=line.ids).delete()
        for key_id in line.ids:
            destroy_key(UUID(key_id))
    elif line.what in OF_ANSWERS:
        say_again(line)
    elif (keeper := keeper_named(line.what)) is not None:
        ids = list(keeper.rows(line.club_id).filter(pk__in=line.ids).values_list("pk", flat=True))
        if ids:
            if line.why == Why.ASKED:
                _remember(line.club_id, keeper.name, ids)
            keeper.take_away(line.club_id, ids)
