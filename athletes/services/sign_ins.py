"""Sign-ins that are open: noted as they begin, seen while they last, ended one by one or all.

What every request asks lies in the browser's session (`life`), so that it costs no query; the row is for the list.
"""

import re
from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth import user_logged_in, user_logged_out
from django.contrib.sessions.models import Session
from django.db import transaction
from django.http import HttpRequest
from django.utils.translation import gettext as _

from athletes.core.sign_in_times import SHARED, Times, times_for
from athletes.models import Account, Person, SignIn
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.closings_of_factors import who_lost_factors
from athletes.services.second_factor import is_due
from athletes.viewer import Viewer, roles_held, server_viewer, viewer_for
from teamtrack.common.clock import today_in, utc_now
from teamtrack.common.errors import NotFound, Refused

LIFE = "life"
SEEN_EVERY_S = 60
"""A sign of life is written at most once a minute."""

PROVED_FOR_S = 10 * 60
"""Seconds for which a proof (a password, a code, a passkey) covers further acts that ask for one."""

_BROWSERS = (("Edg", "Edge"), ("OPR", "Opera"), ("Firefox", "Firefox"), ("Chrom", "Chromium"), ("Safari", "Safari"))
_SYSTEMS = (
    ("Android", "Android"), ("iPhone", "iOS"), ("iPad", "iPadOS"), ("Windows", "Windows"), ("Mac OS", "macOS"),
    ("Linux", "Linux"),
)  # fmt: skip


def register_all() -> None:
    """Called once, when the app is ready."""
    user_logged_in.connect(_note_begin, dispatch_uid="note_sign_in")
    user_logged_out.connect(_note_end, dispatch_uid="note_sign_out")


def own_viewer(person: Person) -> Viewer:
    """Somebody acting on their own sign-in: in the first role held, and as the server where none is held any more."""
    try:
        return viewer_for(person)
    except NotFound:
        return server_viewer(person.club)


def device_words(user_agent: str) -> str:
    """What kind of browser it is, as far as it says: enough to tell one's own apart, nothing to follow anybody by."""
    found = [next((word for mark, word in names if re.search(mark, user_agent)), "") for names in (_BROWSERS, _SYSTEMS)]
    return ", ".join(word for word in found if word)


def mark_seen(request: HttpRequest) -> bool:
    """Whether the sign-in of this request still holds; a sign of life is written where the last one is a minute old."""
    life, now = request.session.get(LIFE), utc_now()
    if life is None:
        return True
    at = now.timestamp()
    if at >= life["until"] or (life["idle"] is not None and at - life["seen"] >= life["idle"]):
        return False
    if at - life["seen"] >= SEEN_EVERY_S:
        request.session[LIFE] = life | {"seen": at}
        SignIn.objects.filter(session_key=request.session.session_key).update(seen_at=now)
    return True


def life_of(request: HttpRequest) -> dict[str, Any]:
    """What the session knows of its sign-in; empty for a stranger."""
    found: dict[str, Any] = request.session.get(LIFE) or {}
    return found


def change_life(request: HttpRequest, **values: Any) -> None:
    """Note something about this sign-in in its session."""
    request.session[LIFE] = life_of(request) | values


def is_proved(request: HttpRequest) -> bool:
    """Whether its owner was proved within the last ten minutes."""
    return utc_now().timestamp() - life_of(request).get("proved", 0) < PROVED_FOR_S


@transaction.atomic
def end_sign_in(*, person: Person, sign_in_id: UUID) -> None:
    """End one sign-in of one's own; raises NotFound where it is not."""
    row = SignIn.objects.filter(pk=sign_in_id, person=person).first()
    if row is None:
        raise NotFound()
    _end([row.session_key])
    log_acts(viewer=own_viewer(person), acts=[Act("ended", "sign_in", code="ONE")])


@transaction.atomic
def end_sign_ins(*, person: Person, but: str = "") -> int:
    """End every sign-in of somebody, but that of the session `but`; answers how many. What changes a sign-in calls it:
    a password, a second factor, a role."""
    keys = list(SignIn.objects.filter(person=person).exclude(session_key=but).values_list("session_key", flat=True))
    _end(keys)
    if keys:
        log_acts(viewer=own_viewer(person), acts=[Act("ended", "sign_in", code="ALL")])
    return len(keys)


@transaction.atomic
def end_sign_ins_for(*, viewer: Viewer, person: Person) -> int:
    """An admin ends every sign-in of somebody whose phone is lost; answers how many. The owner is told at the next one,
    and keeps password and second factor. Nothing is told or logged where none was open."""
    viewer.must_be(Role.ADMIN)
    if person.pk == viewer.person_id:
        raise Refused("CHECK_FIELDS", _("Your own sign-ins are ended under My sign-ins. Nothing was changed."))
    keys = list(SignIn.objects.filter(person=person).values_list("session_key", flat=True))
    if keys:
        _end(keys)
        Account.objects.filter(person=person).update(signed_out_at=utc_now())
        log_acts(viewer=viewer, acts=[Act("ended", "sign_in", person.pk, code="ALL")])
    return len(keys)


def read_signed_out(*, account: Account) -> None:
    """The owner has read that all sign-ins were ended."""
    Account.objects.filter(pk=account.pk).update(signed_out_at=None)


def follow_session(*, person: Person, before: str, after: str) -> None:
    """The browser's session was given another key: the row follows."""
    SignIn.objects.filter(person=person, session_key=before).update(session_key=after)


def sweep() -> None:
    """Remove rows of sign-ins that have ended by themselves."""
    SignIn.objects.exclude(session_key__in=Session.objects.values("session_key")).delete()


def _end(session_keys: Collection[str]) -> None:
    Session.objects.filter(session_key__in=session_keys).delete()
    SignIn.objects.filter(session_key__in=session_keys).delete()


def _note_begin(request: HttpRequest, user: Account, **__: object) -> None:
    """A sign-in began, whichever doorway it came through; that one says on the request how, and on whose phone."""
    person, now = user.person, utc_now()
    is_shared = getattr(request, "is_shared_phone", False)
    roles = roles_held(person, today_in(person.club.timezone))
    times = _times(user, roles, is_shared)
    until = now + timedelta(seconds=times.longest_s)
    is_asked = is_due(user, roles)
    request.session[LIFE] = {
        "until": until.timestamp(), "idle": times.idle_s, "seen": now.timestamp(), "proved": now.timestamp(),
        "shared": is_shared, "factor_due": is_asked,
        "factor_lost": is_asked and str(user.pk) in who_lost_factors(),
    }  # fmt: skip
    request.session.set_expiry(0 if is_shared else until)
    if not request.session.session_key:
        request.session.create()
    _write_row(request, person, now, is_shared)


def _times(account: Account, roles: Collection[str], is_shared: bool) -> Times:
    """The invented club's accounts are never signed out while somebody looks round."""
    if account.is_demo:
        return SHARED if is_shared else Times(None, settings.SESSION_COOKIE_AGE)
    return times_for(roles, is_shared=is_shared)


def _write_row(request: HttpRequest, person: Person, now: datetime, is_shared: bool) -> None:
    columns = {
        "club_id": person.club_id, "person": person, "is_shared": is_shared, "began_at": now, "seen_at": now,
        "method": getattr(request, "signed_in_by", SignIn.Method.PASSWORD),
        "device": device_words(request.headers.get("User-Agent", "")),
    }  # fmt: skip
    SignIn.objects.update_or_create(session_key=request.session.session_key, defaults=columns)


def _note_end(request: HttpRequest, **__: object) -> None:
    if request.session.session_key:
        SignIn.objects.filter(session_key=request.session.session_key).delete()


def standing_factor(account: Account) -> bool:
    """Whether a second factor is due for the roles that the owner holds today."""
    return is_due(account, roles_held(account.person, today_in(account.person.club.timezone)))
