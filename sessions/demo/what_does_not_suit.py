"""Writes which words, and which point, do not suit some athletes of the invented club: of what was really said."""

from datetime import timedelta

from sessions.demo.weeks import Filling
from sessions.models import Entry, EntryKind, Feature, Focus, Unsuited

ATHLETES = 4
"""So many athletes, by name, to whom something was said that was not taken in; the last has a point that does not
suit."""


def write_unsuited(filling: Filling) -> None:
    """Words that were told and not understood, each of another athlete, noted by the coach who said them."""
    viewer = filling.viewer
    features = {row.code: row for row in Feature.objects.filter(club=viewer.club_id)}
    said = Entry.objects.filter(training_session__club=viewer.club_id, kind=EntryKind.CUE).select_related("athlete")
    rows: dict[object, Unsuited] = {}
    for entry in said.order_by("athlete__family_name", "athlete__given_name", "received_at", "seq"):
        if len(rows) == ATHLETES:
            break
        if entry.athlete_id not in rows and entry.content["understood"] == "no":
            rows[entry.athlete_id] = Unsuited(
                club_id=viewer.club_id,
                athlete=entry.athlete,
                feature=features[entry.content["feature"]],
                words=entry.content["words"],
                since=entry.received_at.date() + timedelta(days=1),
                set_by_id=entry.by_id,
            )
    for row in list(rows.values())[-1:]:
        _whole_point(row, [features[code] for code in sorted(features)])
    Unsuited.objects.bulk_create(rows.values())


def _whole_point(row: Unsuited, features: list[Feature]) -> None:
    """In place of the words a point that the athlete does not work on now."""
    in_hand = set(Focus.objects.filter(athlete=row.athlete, until=None).values_list("feature_id", flat=True))
    row.feature, row.words = next(one for one in features if one.pk not in in_hand), ""
