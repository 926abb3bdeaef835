"""Finds whose health text nobody may use any more, and since when: asked of the one decision, every night."""

from collections.abc import Iterable
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.access import answers_for
from athletes.circumstances.relations import adult_coaches_of
from athletes.core.keeping import stopped_since
from athletes.core.permissions import Code
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import HealthKey, HealthStop, Membership, PermissionEvent, Person
from athletes.services.keepers import Night
from athletes.viewer import server_viewer

STILL_PERMITTED = (Code.CONSENT_OK, Code.CONTINUES_PENDING, Code.NOT_A_NAMED_RECIPIENT, Code.RESTRICTED)
"""Answers that end nothing: somebody else may read it, or it is only stored for a while."""


def mark_health_stops(night: Night) -> int:
    """Note who has health text here and no permission for it; who has one again is taken off. Answers how many stand.

    Whoever has a key has text; in a transaction with the club's answers open.
    """
    keys = HealthKey.objects.filter(club=night.club).values("athlete_id")
    people = list(Person.objects.filter(club=night.club, pk__in=keys))
    readers = adult_coaches_of(athlete_ids=[one.pk for one in people], day=night.day)
    answers = answers_for(
        viewer=server_viewer(night.club), athletes=people, purposes=["health"], acting_as=ActingRole.COACH,
        readers=readers,
    )  # fmt: skip
    ended = [one.pk for one in people if answers.answer(one.pk, "health").code not in STILL_PERMITTED]
    HealthStop.objects.filter(club=night.club).exclude(athlete__in=ended).delete()
    known = set(HealthStop.objects.filter(club=night.club).values_list("athlete_id", flat=True))
    new = [one for one in ended if one not in known]
    causes = _causes(new, night)
    HealthStop.objects.bulk_create(
        HealthStop(club=night.club, athlete_id=one, since=stopped_since(causes[one], today=night.day)) for one in new
    )
    return len(ended)


def _causes(athletes: Iterable[UUID], night: Night) -> dict[UUID, list[date | None]]:
    """By athlete: the days of the newest no or stop, of the newest yes running out, and of leaving."""
    zone = ZoneInfo(night.club.timezone)
    found: dict[UUID, list[date | None]] = {one: [] for one in athletes}
    events = PermissionEvent.objects.filter(athlete__in=list(found), purpose="health", about_guardian=None)
    for event in events.order_by("at", "id"):
        said_yes = event.answer == PermissionEvent.Answer.YES
        ends = event.until if said_yes else event.at
        if ends is not None:
            found[event.athlete_id].append(ends.astimezone(zone).date())
    for athlete, last_day in Membership.objects.filter(athlete__in=list(found)).values_list("athlete_id", "last_day"):
        found[athlete].append(last_day)
    return found
