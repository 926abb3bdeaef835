"""A roster file on its way in: taken, chosen about, put in force as a job, dropped; each in one transaction."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.core.roster_file.choosing import FILE, HERE, JOINS, LEAVE, NEW, STAYS, Options
from athletes.core.roster_file.names import folded
from athletes.core.roster_file.table import MOST_BYTES
from athletes.models import EventGroup, RosterFile, Squad
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from teamtrack.common.errors import Conflict, NotFound, Refused
from teamtrack.common.jobs import add_job

TASK = "athletes.work_roster_file"
State = RosterFile.State
_WORDS = {"values": (FILE, HERE), "trial": (JOINS, STAYS)}
MOST_FILES = 20
"""Files that a club may have on their way in at once: whoever drops one makes room."""
A_MOMENT = timedelta(minutes=1)


@transaction.atomic
def take_file(*, viewer: Viewer, content: bytes) -> RosterFile:
    """Keep a file to be read by a worker; the very same again within a minute is the one that is there. Raises Refused
    for one that is empty or too large, and where many wait."""
    _admin(viewer)
    confirmed_first(viewer.club)
    if not content or len(content) > MOST_BYTES:
        said = {"size": MOST_BYTES // 1_000_000}
        raise Refused("FILE_SIZE", _("Choose a CSV or XLSX file of at most %(size)d MB. Nothing was kept.") % said)
    waiting = RosterFile.objects.filter(club=viewer.club_id).exclude(state__in=(State.APPLIED, State.UNDONE))
    last = waiting.filter(by=viewer.person, state__in=(State.READING, State.READY)).order_by("-at").first()
    if last is not None and viewer.now - last.at < A_MOMENT and bytes(last.content) == content:
        return last
    if waiting.count() >= MOST_FILES:
        raise Refused("MANY_FILES", _("Many files wait to be applied. Drop one of them first."))
    file = RosterFile.objects.create(
        club=viewer.club, by=viewer.person, at=viewer.now, content=content, state=State.READING
    )
    add_job(club_id=viewer.club_id, task=TASK, target_id=file.pk)
    log_acts(viewer=viewer, acts=[Act("read", "roster_file")])
    return file


def get_file(viewer: Viewer, file_id: UUID) -> RosterFile:
    """A file of the viewer's club, for its admins; its bytes are not read. Absent and not yours are the same."""
    _admin(viewer)
    found = RosterFile.objects.filter(club=viewer.club_id, pk=file_id).defer("content", "made").first()
    if found is None:
        raise NotFound()
    return found


@transaction.atomic
def choose(*, viewer: Viewer, file_id: UUID, options: Mapping[str, Any], rows: Mapping[str, Mapping[str, str]]) -> None:
    """Keep what was chosen: about the whole file, which is then read again, and about rows. What is no choice is left
    out. Raises Conflict once the file is applied."""
    file = _locked(viewer, file_id)
    if file.state != State.READY:
        raise Conflict("NOT_WAITING", _("This file waits for no answer just now. Nothing was changed."))
    said = _options(viewer, file, options)
    for row, choice in rows.items():
        kept = {name: value for name, value in choice.items() if _is_choice(name, value)}
        file.choices[row] = file.choices.get(row, {}) | kept
    if said != file.options:
        file.options = said
        if Options.read(said).read_with != file.preview.get("read_with"):
            file.state, file.progress = State.READING, {}
            add_job(club_id=viewer.club_id, task=TASK, target_id=file.pk)
    file.save(update_fields=["options", "choices", "state", "progress"])


@transaction.atomic
def apply_file(*, viewer: Viewer, file_id: UUID) -> RosterFile:
    """Ask the worker to put the file in force, whole or not at all; asking twice is harmless."""
    confirmed_first(viewer.club)
    file = _locked(viewer, file_id)
    if file.state == State.READY:
        file.state, file.progress = State.APPLYING, {}
        file.save(update_fields=["state", "progress"])
        add_job(club_id=viewer.club_id, task=TASK, target_id=file.pk)
    return file


@transaction.atomic
def drop_file(*, viewer: Viewer, file_id: UUID) -> None:
    """Forget a file that is not applied; its job finds nothing to do."""
    file = _locked(viewer, file_id)
    if file.state in (State.APPLIED, State.UNDONE, State.APPLYING):
        raise Conflict("NOT_WAITING", _("This file is applied already. Undo it instead."))
    file.delete()
    log_acts(viewer=viewer, acts=[Act("removed", "roster_file")])


def _admin(viewer: Viewer) -> None:
    if viewer.role != Role.ADMIN:
        raise NotFound()


def _locked(viewer: Viewer, file_id: UUID) -> RosterFile:
    _admin(viewer)
    rows = RosterFile.objects.select_for_update().filter(club=viewer.club_id, pk=file_id)
    found = rows.defer("content", "made").first()
    if found is None:
        raise NotFound()
    return found


def _options(viewer: Viewer, file: RosterFile, said: Mapping[str, Any]) -> dict[str, Any]:
    """The options as they are from now on; a name maps to one that is here, or is new."""
    squads = set(Squad.objects.filter(club=viewer.club_id).values_list("name", flat=True)) | {NEW}
    groups = set(EventGroup.objects.filter(club=viewer.club_id).values_list("name", flat=True))
    groups |= {f"{NEW}:{discipline}" for discipline in EventGroup.Discipline.values}
    found = dict(file.options)
    for name in ("order", "values", "back", "ring_guardians", "notice_shown"):
        if name in said:
            found[name] = said[name]
    for name, known in (("squads", squads), ("groups", groups)):
        more = {folded(one): value for one, value in said.get(name, {}).items() if value in known}
        found[name] = found.get(name, {}) | more
    read = Options.read(found)
    return {
        "order": str(read.order or ""), "values": read.values, "back": read.back,
        "ring_guardians": read.ring_guardians, "notice_shown": read.notice_shown,
        "squads": dict(read.squads), "groups": dict(read.groups),
    }  # fmt: skip


def _is_choice(name: str, value: str) -> bool:
    if name in _WORDS:
        return value in _WORDS[name]
    if name != "who":
        return False
    if value in (NEW, LEAVE):
        return True
    try:
        return bool(UUID(value))
    except ValueError:
        return False
