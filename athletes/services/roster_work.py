"""The worker's part of a roster file: reads and compares it, telling how far it is; puts it in force whole."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction

from athletes.core.roster_file import choosing
from athletes.core.roster_file.choosing import Options, settle
from athletes.core.roster_file.compare import Comparison, compare
from athletes.core.roster_file.families import Families
from athletes.core.roster_file.faults import FileRefused
from athletes.core.roster_file.here import Here
from athletes.core.roster_file.lines import Reading, read_lines
from athletes.core.roster_file.table import read_table
from athletes.models import Club, RosterFile
from athletes.models.accounts import Role
from athletes.selectors.known_people import here_of
from athletes.services.access_log import Act, log_acts
from athletes.services.roster_rows import write_lines
from athletes.viewer import Viewer, viewer_for
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.jobs import claim_job, end_job, leased
from teamtrack.common.models import Job

log = logging.getLogger(__name__)
State = RosterFile.State
MOST_SHOWN = 200
"""Faults, and days that could be two, that are kept to be shown; all are counted."""

Tell = Callable[[int, int], None]


@dataclass
class Read:
    """A file read and compared: `compared` is missing where something about the whole of it is asked first."""

    reading: Reading
    options: Options
    families: Families | None = None
    compared: Comparison | None = None


def work_roster_file(*, job_id: UUID | str) -> bool:
    """Do the job unless somebody else has it or it is done; False then.

    A worker that was lost leaves it to the next, which begins anew.
    """
    job = claim_job(job_id)
    if job is None:
        return False
    with leased(job):
        file = RosterFile.objects.select_related("by__club").filter(pk=job.target_id, club=job.club_id).first()
        if file is not None and file.state in (State.READING, State.APPLYING):
            _work(job, file)
        else:
            end_job(job)
    return True


def _work(job: Job, file: RosterFile) -> None:
    """An error nobody foresaw leaves the file as one that cannot be read, and is raised."""
    try:
        viewer = viewer_for(file.by, Role.ADMIN)
        if file.state == State.READING:
            _keep(job, file, state=State.READY, preview=preview(viewer, file))
        else:
            _apply(job, file, viewer)
    except FileRefused as refused:
        _keep(
            job, file, state=State.FAILED, preview={"refused": refused.fault.value, "said": refused.said}, content=b""
        )
    except (NotFound, Refused) as refused:
        _keep(job, file, state=State.FAILED, preview={"failed": refused.code}, content=b"")
    except Exception:
        _keep(job, file, state=State.FAILED, preview={"failed": "FAULT"}, content=b"", failed=True)
        raise


@transaction.atomic
def _keep(job: Job, file: RosterFile, *, failed: bool = False, **values: Any) -> None:
    """Write the result and end the job, if this worker still holds it."""
    if end_job(job, failed=failed):
        RosterFile.objects.filter(pk=file.pk, state=file.state).update(**values)


def preview(viewer: Viewer, file: RosterFile) -> dict[str, Any]:
    """What the file would change, as a page shows it. Raises FileRefused."""

    def tell(done: int, total: int) -> None:
        RosterFile.objects.filter(pk=file.pk).update(progress={"done": done, "total": total})

    return _as_json(read_and_compare(viewer.today, bytes(file.content), file.options, here_of(viewer), tell))


def read_and_compare(
    today: Any, content: bytes, options: dict[str, Any], here: Here, tell: Tell = lambda done, total: None
) -> Read:
    """Read a file and compare it with what is here. Raises FileRefused."""
    said = Options.read(options)
    reading = read_lines(read_table(content), today=today, order=said.order)
    if reading.two_ways:
        return Read(reading, said)
    lines = [said.applied_to(line) for line in reading.lines]
    families = Families(here.adults, lines)
    return Read(reading, said, families, compare(lines, here, families=families, on_progress=tell))


def _as_json(read: Read) -> dict[str, Any]:
    reading, found = read.reading, read.compared
    faults = sorted(
        [*reading.faults, *(found.faults if found else ())],
        key=lambda one: (one.row, reading.places.get(one.column, 0)),
    )
    return {
        "read_with": read.options.read_with,
        "faults": [
            {
                "row": one.row, "column": one.column, "cell": reading.cell(one.row, one.column), "why": one.why.value,
                "said": one.said,
            }
            for one in faults[:MOST_SHOWN]
        ],
        "fault_count": len(faults),
        "two_ways": [
            {
                "row": one.row, "column": one.column, "cell": reading.cell(one.row, one.column), "said": one.said,
                "day_first": str(one.day_first), "month_first": str(one.month_first),
            }
            for one in reading.two_ways[:MOST_SHOWN]
        ],
        "two_ways_count": len(reading.two_ways),
        "not_read": list(reading.not_read),
        **(choosing.as_json(found) if found else {}),
    }  # fmt: skip


def _apply(job: Job, file: RosterFile, viewer: Viewer) -> None:
    """Compare outside the lock; inside, only if the club is still the same, write. Else the new preview is shown."""
    here = here_of(viewer)
    read = read_and_compare(viewer.today, bytes(file.content), file.options, here)
    now = _as_json(read)
    if now != file.preview or not is_complete(read, file):
        _keep(job, file, state=State.READY, preview=now | {"is_changed": now != file.preview})
        return
    with transaction.atomic():
        Club.objects.select_for_update(no_key=True).get(pk=viewer.club_id)
        is_same = here_of(viewer) == here
        if is_same and end_job(job):
            put_in_force(viewer, file, read)
    if not is_same:
        _keep(job, file, state=State.READY, preview=now | {"is_changed": True})


def is_complete(read: Read, file: RosterFile) -> bool:
    """Whether nothing is wrong and nothing open."""
    found = read.compared
    if found is None or read.reading.faults or found.faults:
        return False
    is_named = not any(choosing.open_names(found, read.options))
    settled = settle(found.examined, file.choices, read.options)
    is_told = read.options.notice_shown or not settled.has_joining
    return is_named and is_told and not settled.open_rows


def put_in_force(viewer: Viewer, file: RosterFile, read: Read) -> None:
    """Write all lines, what was made, and one line of the access log; in the caller's transaction."""
    assert read.compared is not None and read.families is not None
    writes = settle(read.compared.examined, file.choices, read.options).writes
    made = write_lines(viewer=viewer, writes=writes, families=read.families, options=read.options)
    added = sum(1 for write in writes if write.outcome.known is None)
    counts = {"added": added, "changed": len(writes) - added}
    RosterFile.objects.filter(pk=file.pk).update(
        state=State.APPLIED, content=b"", choices={}, preview={"counts": counts}, made=made, applied_at=viewer.now
    )
    log_acts(viewer=viewer, acts=[Act("applied", "roster_file", fields=tuple(f"{n} {v}" for n, v in counts.items()))])
