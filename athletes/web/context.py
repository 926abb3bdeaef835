"""What every page knows: who is signed in, in which role, and the navigation of the roles held."""

from dataclasses import dataclass
from datetime import tzinfo

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from athletes.models.accounts import Role
from athletes.selectors.sign_in_sheets import MAY_ASK, may_ask
from athletes.services.one_time_codes import GOOD_FOR
from athletes.services.sign_ins import life_of
from athletes.viewer import Viewer, left_with, viewer_of
from teamtrack.common.by_language import by_language
from teamtrack.common.clock import now_in, utc_now
from teamtrack.common.errors import NotFound

MOST_ITEMS = 6
OWN_PAGES: tuple[tuple[str | Promise, str, frozenset[str]], ...] = (
    (_("My permissions"), "athlete-permissions", frozenset({Role.ATHLETE})),
    (_("Who looked"), "who-looked", frozenset({Role.ATHLETE})),
    (_("Calendar address"), "own-calendar", frozenset({Role.ATHLETE, Role.GUARDIAN, Role.COACH, Role.HEAD_COACH})),
)
"""What stands under one's own name, each with the roles that have it."""
OF_WHO_LEFT = (
    (_("What is kept"), "athlete-requests"),
    (_("My permissions"), "athlete-permissions"),
    (_("Who looked"), "who-looked"),
)
"""What stays open to an athlete who has left."""
SIGN_IN_PAGES = ((_("My sign-ins"), "my-sign-ins"), (_("Second factor"), "my-factors"))


@dataclass(frozen=True)
class NavItem:
    """One place in the bar."""

    label: str
    href: str
    is_current: bool = False


# Each role's screens, by name of the address; several roles are joined, at most six places.
SCREENS: dict[str, tuple[tuple[str | Promise, str], ...]] = {
    Role.HEAD_COACH: (
        (_("Today"), "today"),
        (_("Week"), "head-coach-week-now"),
        (_("Season"), "season"),
        (_("Athletes"), "head-coach-athletes"),
    ),
    Role.COACH: ((_("Today"), "today"), (_("Week"), "coach-week-now"), (_("Athletes"), "coach-athletes")),
    Role.ATHLETE: ((_("Today"), "today"), (_("Log strides"), "log-strides-now"), (_("My running"), "my-running")),
    Role.GUARDIAN: ((_("Family"), "family"), (_("Permissions"), "guardian-permissions")),
    Role.ADMIN: (
        (_("To do"), "to-do"),
        (_("Roster"), "roster"),
        (_("Consents"), "consents"),
        (_("Requests"), "admin-requests"),
    ),
    Role.WELFARE: (
        (_("Access log"), "welfare-access-log"),
        (_("Guardians' views"), "withheld-views"),
        (_("Emergencies"), "welfare-emergencies"),
    ),
}


UNDER: dict[str, tuple[str, ...]] = {
    "today": ("/coach/evenings", "/coach/sessions/", "/head-coach/sessions/", "/head-coach/call-list"),
    "season": ("/head-coach/meets", "/head-coach/calendar-files", "/head-coach/venues", "/head-coach/hard-sessions"),
    "family": ("/guardian/other-sport/",),
}
"""Where pages stand that are one tap from a row of a screen, by the screen's name."""


def navigation(viewer: Viewer, current_path: str = "") -> tuple[NavItem, ...]:
    """The places of all roles held; the same screen stands once, under the first role that has it."""
    return tuple(
        NavItem(label, href, is_current=current_path.startswith((href, *under)))
        for label, href, under in _places(viewer.roles)
    )


@by_language
def _places(roles: tuple[str, ...]) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    """Label and address of each place, and where what belongs to it stands."""
    items: dict[str, tuple[str, tuple[str, ...]]] = {}
    seen: set[str] = set()
    for role in roles:
        for label, name in SCREENS[role]:
            href = reverse(name)
            if str(label) not in seen:
                seen.add(str(label))
                items[href] = str(label), UNDER.get(name, ())
    return tuple((label, href, under) for href, (label, under) in items.items())[:MOST_ITEMS]


def signed_in(request: HttpRequest) -> dict[str, object]:
    """Template variables about the signed-in person; none for a stranger."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {}
    try:
        viewer = viewer_of(request)
    except NotFound:
        return _without_part(request)
    return {
        "signed_in_person": viewer.person,
        "club": viewer.club,
        "roles_held": [Role(role) for role in viewer.roles],
        "nav_items": navigation(viewer, request.path),
        "me_items": _own_pages(viewer.roles, _asks_as(viewer)),
    } | _sign_in_told(request, viewer.now.tzinfo)


def _without_part(request: HttpRequest) -> dict[str, object]:
    """Of somebody whose part in the club has ended: the places of what is kept, and of the own sign-in."""
    person = request.user.person
    now = now_in(person.club.timezone)
    places = _places_of_who_left() if left_with(person, now.date()) else ()
    return {
        "signed_in_person": person,
        "club": person.club,
        "nav_items": tuple(NavItem(label, href, request.path.startswith(href)) for label, href in places),
        "me_items": _own_pages(()),
    } | _sign_in_told(request, now.tzinfo)


@by_language
def _places_of_who_left() -> tuple[tuple[str, str], ...]:
    """Label and address of each place that stays open."""
    return tuple((str(label), reverse(name)) for label, name in OF_WHO_LEFT)


def _asks_as(viewer: Viewer) -> str:
    """The first role held in which a new sign-in for somebody else may be asked for; empty for a helper under 18."""
    return next((role for role in viewer.roles if role in MAY_ASK and may_ask(viewer.acting_as(role))), "")


@by_language
def _own_pages(roles: tuple[str, ...], asks_as: str = "") -> tuple[NavItem, ...]:
    """What stands under one's own name; `asks_as` is the role in which somebody else's sign-in is asked for."""
    items = [(label, reverse(name)) for label, name, those in OWN_PAGES if those & {*roles}]
    items += [(label, reverse(name)) for label, name in SIGN_IN_PAGES]
    if Role.ADMIN in roles:
        items.append((_("Sign-in sheets"), reverse("sign-in-sheets")))
    if asks_as:
        items.append((_("Somebody cannot sign in"), reverse("recovery", args=[asks_as])))
    return tuple(NavItem(str(label), href) for label, href in items)


def _sign_in_told(request: HttpRequest, zone: tzinfo | None) -> dict[str, object]:
    """Of the sign-in: that the phone is not one's own, that an admin ended all others, and since when a sheet waits."""
    life, made_at, signed_out_at = life_of(request), request.user.sheet_made_at, request.user.signed_out_at
    waits = made_at is not None and utc_now() - made_at < GOOD_FOR
    return {
        "on_shared_phone": life.get("shared", False),
        "shared_idle_s": life.get("idle"),
        "signed_out_at": signed_out_at.astimezone(zone) if signed_out_at else None,
        "sheet_waits_since": made_at.astimezone(zone) if waits else None,
    }
