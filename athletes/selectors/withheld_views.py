"""What the welfare lead needs to withhold a guardian's view: minors with their guardians, and what is withheld now."""

from collections import defaultdict
from dataclasses import dataclass
from uuid import UUID

from athletes.access import athletes_visible_to
from athletes.core import ages
from athletes.models import Guardianship, Person, Withholding
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force


@dataclass(frozen=True)
class WithheldViews:
    """`minors` with the guardians whose view stands; `withheld` from the day on which it began."""

    minors: tuple[tuple[Person, tuple[Person, ...]], ...]
    withheld: tuple[Withholding, ...]


def withheld_views(viewer: Viewer) -> WithheldViews:
    """The page of the welfare lead; a fixed number of queries."""
    viewer.must_be(Role.WELFARE)
    minors = [one for one in athletes_visible_to(viewer) if _is_minor(viewer, one)]
    ids = [one.pk for one in minors]
    withheld = Withholding.objects.filter(in_force(viewer.today), club=viewer.club_id, athlete__in=ids)
    rows = list(withheld.select_related("athlete", "guardian").order_by("first_day", "id"))
    shut = {(row.athlete_id, row.guardian_id) for row in rows}
    links = Guardianship.objects.filter(in_force(viewer.today), athlete__in=ids).select_related("guardian")
    guardians: dict[UUID, list[Person]] = defaultdict(list)
    for link in links.order_by("guardian__family_name", "guardian__given_name"):
        if (link.athlete_id, link.guardian_id) not in shut:
            guardians[link.athlete_id].append(link.guardian)
    listed = tuple((one, tuple(guardians[one.pk])) for one in minors if guardians[one.pk])
    return WithheldViews(listed, tuple(rows))


def _is_minor(viewer: Viewer, athlete: Person) -> bool:
    return athlete.birth_date is None or ages.is_minor(ages.age_on(athlete.birth_date, viewer.today))
