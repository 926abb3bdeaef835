"""Makes, stops and answers the secret addresses of people's own calendars."""

import hashlib
import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from sessions.core.calendar_lines import Told, lines_now
from sessions.models import CalendarAddress, CalendarLine, CalendarSettings
from sessions.selectors.own_calendar import (
    Line,
    OwnCalendar,
    address_of_secret,
    calendar_of,
    planned_lines,
    state_of,
    told_lines,
)
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound, Refused

SECRET_BYTES = 20
"""160 bits: nobody finds one by trying."""

MOST_ANSWERS = 6
"""Whole answers of one address in an hour, for a calendar program asks once; "not changed" is free."""

AN_HOUR = timedelta(hours=1)
OF_LINE = ("sequence", "changed_at", "cancelled_at", "kinds", "starts_at", "ends_at", "place")


class TooOften(Refused):
    """The address was asked for its whole text too often: wait."""

    status = 429

    def __init__(self, wait_s: int) -> None:
        super().__init__("TOO_OFTEN", _("This calendar was fetched too often. Please wait an hour."))
        self.wait_s = wait_s


@dataclass(frozen=True)
class CalendarAnswer:
    """What a fetch is answered: the state that names the text, and its lines; none where the asker has them."""

    calendar: OwnCalendar
    state: str
    lines: tuple[tuple[UUID, Line], ...] | None


@transaction.atomic
def make_calendar_address(*, viewer: Viewer) -> str:
    """A new secret address for the viewer, told this once; the one before opens nothing from now on.

    Raises Refused where nobody has said yes to one, or before the club's rules are confirmed.
    """
    confirmed_first(viewer.club)
    if not calendar_of(viewer.person).is_open:
        raise Refused("NOT_ALLOWED", _("First somebody has to say yes to a calendar address, under Permissions."))
    _stop(viewer)
    secret = secrets.token_urlsafe(SECRET_BYTES)
    CalendarAddress.objects.create(
        club_id=viewer.club_id, person=viewer.person, secret_hash=hash_of(secret), made_at=utc_now()
    )
    log_acts(viewer=viewer, acts=[Act("made", "calendar_address", viewer.person_id, ("secret_hash",))])
    return secret


@transaction.atomic
def stop_calendar_address(*, viewer: Viewer) -> bool:
    """The viewer's address opens nothing from now on; whether there was one. Needs nobody's yes."""
    is_stopped = _stop(viewer)
    if is_stopped:
        log_acts(viewer=viewer, acts=[Act("stop", "calendar_address", viewer.person_id, ("stopped_at",))])
    return is_stopped


def _stop(viewer: Viewer) -> bool:
    return CalendarAddress.objects.filter(person=viewer.person_id, stopped_at=None).update(stopped_at=utc_now()) > 0


@transaction.atomic
def set_hidden_venue(*, viewer: Viewer, hides_venue: bool) -> None:
    """Whether the club's calendars leave out where it is; the head coach's and the admins' to say."""
    if viewer.role not in (Role.HEAD_COACH, Role.ADMIN):
        raise NotFound()
    row, _made = CalendarSettings.objects.select_for_update().get_or_create(club_id=viewer.club_id)
    if row.hides_venue == hides_venue:
        return
    CalendarSettings.objects.filter(pk=row.pk).update(hides_venue=hides_venue)
    log_acts(viewer=viewer, acts=[Act("change", "calendar_settings", None, ("hides_venue",))])


def hash_of(secret: str) -> str:
    """What is kept of a secret: 160 random bits need no slow hash."""
    return hashlib.sha256(secret.encode()).hexdigest()


def fetch_calendar(*, secret: str, known: Collection[str]) -> CalendarAnswer:
    """What whoever holds the secret is answered; no lines where they know the calendar's state, for which no session
    is read.

    Raises NotFound where the secret opens nothing, or nobody's plan may be told now; TooOften after too many answers.
    """
    address = address_of_secret(hash_of(secret))
    if address is None:
        raise NotFound()
    calendar = calendar_of(address.person)
    if not calendar.is_open:
        raise NotFound()
    state = state_of(calendar)
    if state in known:
        return CalendarAnswer(calendar, state, None)
    with transaction.atomic():
        is_told = _count(address, state)
        return CalendarAnswer(calendar, state, tuple(_told(calendar) if is_told else _brought_up(calendar)))


def _count(address: CalendarAddress, state: str) -> bool:
    """Count a whole answer; two at once of the same address wait for each other. Answers whether the lines are those of
    this state already."""
    now = utc_now()
    row = CalendarAddress.objects.select_for_update().get(pk=address.pk)
    began = row.hour_began_at
    is_new_hour = began is None or began + AN_HOUR <= now
    if began is not None and not is_new_hour and row.answers >= MOST_ANSWERS:
        raise TooOften(int((began + AN_HOUR - now).total_seconds()) + 1)
    row.hour_began_at, row.answers = (now, 1) if is_new_hour else (began, row.answers + 1)
    is_told = row.told_state == state
    row.fetched_at, row.told_state = now, state
    row.save(update_fields=["hour_began_at", "answers", "fetched_at", "told_state"])
    return is_told


def _told(calendar: OwnCalendar) -> list[tuple[UUID, Line]]:
    """The lines as they stand, in order of time."""
    return [(uid, line) for uid, (_row, line) in told_lines(calendar).items()]


def _brought_up(calendar: OwnCalendar) -> list[tuple[UUID, Line]]:
    """The lines as they are now, in order of time; what changed is written, so that its number rises."""
    planned, before = planned_lines(calendar), told_lines(calendar)
    told = {uid: line.told for uid, (_row, line) in before.items()}
    now, gone = lines_now(told, {uid: one for uid, (one, _) in planned.items()}, calendar.viewer.now)
    about = {uid: line.about for uid, (_row, line) in before.items()} | {uid: who for uid, (_, who) in planned.items()}
    _write(calendar, {uid: row for uid, (row, _line) in before.items()}, told, now, about)
    if gone:
        CalendarLine.objects.filter(reader=calendar.viewer.person_id, uid__in=gone).delete()
    found = [(uid, Line(one, about[uid])) for uid, one in now.items()]
    return sorted(found, key=lambda pair: (pair[1].told.planned.starts_at, pair[0]))


def _write(
    calendar: OwnCalendar,
    rows: dict[UUID, UUID],
    told: dict[UUID, Told],
    now: dict[UUID, Told],
    about: dict[UUID, UUID | None],
) -> None:
    new, changed = [], []
    for uid, line in now.items():
        if told.get(uid) == line:
            continue
        row = CalendarLine(club_id=calendar.viewer.club_id, reader=calendar.viewer.person, uid=uid, about_id=about[uid])
        row.pk = rows.get(uid, row.pk)
        row.sequence, row.changed_at, row.cancelled_at = line.sequence, line.changed_at, line.cancelled_at
        row.kinds, row.place = line.planned.kinds, line.planned.place
        row.starts_at, row.ends_at = line.planned.starts_at, line.planned.ends_at
        (changed if uid in rows else new).append(row)
    CalendarLine.objects.bulk_create(new)
    CalendarLine.objects.bulk_update(changed, OF_LINE, batch_size=100)
