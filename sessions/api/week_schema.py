"""How weeks, proposals and their parts are asked for and answered."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from sessions.core.week_changes import Aspect, Change, Place
from sessions.models import Demand, Proposal, TrainingSession
from sessions.models.season import Kind
from sessions.selectors.draft_week import DraftWeek, named
from sessions.selectors.proposals import Standing, Trouble
from sessions.week_words import WeekNames, change_sentence
from teamtrack.common.api.serializers import StrictSerializer


class RevisionInput(StrictSerializer):
    """The revision of the draft that the sender saw."""

    revision = serializers.IntegerField(min_value=0, max_value=2**31 - 1)


class AcceptInput(RevisionInput):
    """`demands` are those taken over; null, or left out, is all."""

    demands = serializers.ListField(child=serializers.UUIDField(), required=False, allow_null=True, default=None)


class PlaceOutput(serializers.Serializer):
    """Where a demand lies. `excused` and `away` hold those whom the reader may know of, `absent` counts all."""

    start = serializers.DateTimeField()
    end = serializers.DateTimeField()
    venue = serializers.UUIDField()
    coaches = serializers.ListField(child=serializers.UUIDField())
    excused = serializers.ListField(child=serializers.UUIDField())
    away = serializers.ListField(child=serializers.UUIDField())
    absent = serializers.IntegerField()
    reasons = serializers.ListField(child=serializers.CharField())


class DemandOutput(serializers.Serializer):
    """A session that the week needs, and its place in the draft."""

    id = serializers.UUIDField()
    group = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=Kind.choices)
    also = serializers.ListField(child=serializers.ChoiceField(choices=Kind.choices))
    duration_min = serializers.IntegerField()
    priority = serializers.IntegerField()
    is_pinned = serializers.BooleanField()
    place = PlaceOutput(allow_null=True)


class PublishedOutput(serializers.ModelSerializer):
    """A published training session of the week."""

    groups = serializers.PrimaryKeyRelatedField(many=True, read_only=True)
    kind = serializers.ChoiceField(choices=Kind.choices)

    class Meta:
        model = TrainingSession
        fields = ("id", "kind", "starts_at", "ends_at", "venue", "groups", "state")


class WeekOutput(serializers.Serializer):
    """A week: `demands` are the head coach's draft and empty for others; `sessions` are published."""

    week = serializers.CharField()
    revision = serializers.IntegerField()
    published_revision = serializers.IntegerField(allow_null=True)
    demands = DemandOutput(many=True)
    sessions = PublishedOutput(many=True)


class MoveOutput(serializers.Serializer):
    """One session that a proposal changes, against the draft as it stands now."""

    demand = serializers.UUIDField()
    aspects = serializers.ListField(child=serializers.ChoiceField(choices=[one.value for one in Aspect]))
    before = PlaceOutput(allow_null=True)
    after = PlaceOutput(allow_null=True)
    text = serializers.CharField()


class ProposalOutput(serializers.Serializer):
    """A proposal: how far the work is, then its moves; `trouble` says why work does not go on."""

    id = serializers.UUIDField()
    week = serializers.CharField()
    based_on_revision = serializers.IntegerField()
    state = serializers.ChoiceField(choices=Proposal.State.choices)
    trouble = serializers.ChoiceField(choices=[one.value for one in Trouble], allow_null=True)
    failure = serializers.CharField()
    seconds = serializers.FloatField()
    best = serializers.IntegerField(allow_null=True)
    bound = serializers.IntegerField(allow_null=True)
    status = serializers.ChoiceField(choices=["optimal", "feasible"], allow_null=True)
    moves = MoveOutput(many=True)
    unplaced = serializers.ListField(child=serializers.UUIDField())


class PublishedCountOutput(serializers.Serializer):
    """What publishing did: how many sessions it changed and how many people are told."""

    sessions = serializers.IntegerField()
    people = serializers.IntegerField()
    published_revision = serializers.IntegerField()


def place_row(place: Place | None, names: WeekNames) -> dict[str, Any] | None:
    """A place for `PlaceOutput`."""
    if place is None:
        return None
    return {
        "start": place.starts_at,
        "end": place.ends_at,
        "venue": place.venue,
        "coaches": place.coaches,
        "excused": named(place.excused, names),
        "away": named(place.away, names),
        "absent": len(place.absent),
        "reasons": place.reasons,
    }


def demand_row(demand: Demand, places: Mapping[str, Place], names: WeekNames) -> dict[str, Any]:
    """A demand for `DemandOutput`."""
    values = ("id", "kind", "also", "duration_min", "priority", "is_pinned")
    row = {name: getattr(demand, name) for name in values}
    return row | {"group": demand.group_id, "place": place_row(places.get(str(demand.pk)), names)}


def proposal_row(standing: Standing, draft: DraftWeek) -> dict[str, Any]:
    """A proposal for `ProposalOutput`."""
    proposal, solution = standing.proposal, draft.solution
    figures = solution or proposal.progress
    return {
        "id": proposal.pk,
        "week": draft.week.label,
        "based_on_revision": proposal.based_on_revision,
        "state": proposal.state,
        "trouble": standing.trouble.value if standing.trouble else None,
        "failure": proposal.failure,
        "seconds": figures.get("seconds") or 0.0,
        "best": solution["objective"] if solution else figures.get("best"),
        "bound": figures.get("bound"),
        "status": solution["status"] if solution else None,
        "moves": [_move_row(change, draft.names) for change in draft.proposed_changes],
        "unplaced": _unplaced(proposal, solution),
    }


def _move_row(change: Change, names: WeekNames) -> dict[str, Any]:
    return {
        "demand": change.demand,
        "aspects": sorted(aspect.value for aspect in change.aspects),
        "before": place_row(change.before, names),
        "after": place_row(change.after, names),
        "text": change_sentence(change, names),
    }


def _unplaced(proposal: Proposal, solution: dict[str, Any] | None) -> list[str]:
    if solution is None:
        return []
    return [row["demand"] for row in solution["unplaced"]] + list(proposal.progress.get("left_out", {}))
