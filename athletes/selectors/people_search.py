"""People found while somebody types: by the beginnings of their names, through the one door."""

from collections.abc import Iterator

from django.db.models import Q

from athletes.access import known_to
from athletes.core.roster_file.names import folded
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound

MOST_FOUND = 12
AT_ONCE = 30
MOST_LOOKS = 5
MOST_WORDS = 4


def people_found(*, viewer: Viewer, typed: str) -> tuple[list[Person], bool]:
    """At most twelve people, by name, each typed word the beginning of a word of the name; and whether there are more.

    Nothing typed finds nobody. Raises NotFound for roles that search nobody.
    """
    if viewer.role not in (Role.ADMIN, Role.HEAD_COACH):
        raise NotFound()
    words = folded(typed[:100]).split()[:MOST_WORDS]
    found: list[Person] = []
    for people in _looks(viewer, words) if words else ():
        found += known_to(viewer, people)
        if len(found) > MOST_FOUND:
            break
    return found[:MOST_FOUND], len(found) > MOST_FOUND


def _looks(viewer: Viewer, words: list[str]) -> Iterator[list[Person]]:
    """The people of these names, some at a time: most looks end with the first."""
    named = Q(club=viewer.club_id, left_on=None)
    for word in words:
        named &= Q(search_name__contains=f" {word}")
    rows = Person.objects.filter(named).order_by("family_name", "given_name", "id")
    for look in range(MOST_LOOKS):
        people = list(rows[look * AT_ONCE : (look + 1) * AT_ONCE])
        if people:
            yield people
        if len(people) < AT_ONCE:
            return
