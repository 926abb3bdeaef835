"""Where an answer of the API leads: what of it the next address takes (the links of the OpenAPI document)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Schema = dict[str, Any]
_BODY = "$response.body#"
_METHODS = ("get", "post")


@dataclass(frozen=True)
class Link:
    """From an answer of the operation `source` to the operation `target`.

    `takes` gives its parameters, `sends` its body, both as runtime expressions (OpenAPI 3.0.3, "Runtime Expressions").
    """

    name: str
    source: str
    target: str
    takes: Mapping[str, str] = field(default_factory=dict)
    sends: Mapping[str, str] | None = None

    def as_told(self) -> Schema:
        """A Link Object (OpenAPI 3.0.3)."""
        told: Schema = {"operationId": self.target}
        if self.takes:
            told["parameters"] = dict(self.takes)
        return told if self.sends is None else told | {"requestBody": dict(self.sends)}


def _same(key: str) -> dict[str, str]:
    return {key: f"$request.path.{key}"}


_SESSION, _ATHLETE, _WEEK, _PROPOSAL = (_same(key) for key in ("session_id", "athlete_id", "label", "proposal_id"))
_NEW_PROPOSAL = {"proposal_id": f"{_BODY}/id"}
_REVISION = {"revision": f"{_BODY}/revision"}
_FIRST_ON_ROSTER = {"athlete_id": f"{_BODY}/trackside/athletes/0/person"}

LINKS = (
    Link("me", "sign_in_create", "me_retrieve"),
    Link("sessions", "me_retrieve", "sessions_list"),
    Link("ownPermissions", "me_retrieve", "athletes_permissions_retrieve", {"athlete_id": f"{_BODY}/person"}),
    Link("nextPage", "sessions_list", "sessions_list", {"cursor": f"{_BODY}/next"}),
    Link("session", "sessions_list", "sessions_retrieve", {"session_id": f"{_BODY}/items/0/id"}),
    Link("availability", "sessions_retrieve", "sessions_availability_retrieve", _SESSION),
    Link("entries", "sessions_retrieve", "sessions_entries_retrieve", _SESSION),
    Link("counting", "sessions_retrieve", "sessions_entries_counting_retrieve", _SESSION),
    Link("sayAvailability", "sessions_availability_retrieve", "sessions_availability_create", _SESSION),
    Link("availability", "sessions_availability_create", "sessions_availability_retrieve", _SESSION),
    Link("sendEntries", "sessions_entries_retrieve", "sessions_entries_create", _SESSION),
    Link("laterEntries", "sessions_entries_retrieve", "sessions_entries_retrieve",
         _SESSION | {"after": f"{_BODY}/next"}),
    Link("entries", "sessions_entries_create", "sessions_entries_retrieve", _SESSION),
    Link("counting", "sessions_entries_create", "sessions_entries_counting_retrieve", _SESSION),
    Link("formHistory", "sessions_retrieve", "athletes_form_history_retrieve", _FIRST_ON_ROSTER),
    Link("permissions", "athletes_form_history_retrieve", "athletes_permissions_retrieve", _ATHLETE),
    Link("answer", "athletes_permissions_retrieve", "athletes_permissions_create", _ATHLETE),
    Link("permissions", "athletes_permissions_create", "athletes_permissions_retrieve", _ATHLETE),
    Link("session", "weeks_retrieve", "sessions_retrieve", {"session_id": f"{_BODY}/sessions/0/id"}),
    Link("makeDemands", "weeks_retrieve", "weeks_create", _WEEK),
    Link("propose", "weeks_create", "weeks_proposals_create", _WEEK),
    Link("publish", "weeks_retrieve", "weeks_publish_create", _WEEK, _REVISION),
    Link("proposal", "weeks_proposals_create", "proposals_retrieve", _NEW_PROPOSAL),
    Link("stop", "weeks_proposals_create", "proposals_stop_create", _NEW_PROPOSAL),
    Link("accept", "proposals_retrieve", "proposals_accept_create", _PROPOSAL,
         {"revision": f"{_BODY}/based_on_revision"}),
    Link("stop", "proposals_retrieve", "proposals_stop_create", _PROPOSAL),
    Link("accept", "proposals_stop_create", "proposals_accept_create", _PROPOSAL,
         {"revision": f"{_BODY}/based_on_revision"}),
    Link("week", "proposals_retrieve", "weeks_retrieve", {"label": f"{_BODY}/week"}),
    Link("publish", "proposals_accept_create", "weeks_publish_create", {"label": f"{_BODY}/week"}, _REVISION),
    Link("week", "weeks_publish_create", "weeks_retrieve", _WEEK),
)  # fmt: skip


def add_links(result: Schema, **_: object) -> Schema:
    """Add to every good answer where it leads (a hook of the document's maker)."""
    for operation in (path[method] for path in result["paths"].values() for method in _METHODS if method in path):
        links = {link.name: link.as_told() for link in LINKS if link.source == operation["operationId"]}
        if links:
            good = next(answer for status, answer in operation["responses"].items() if status < "300")
            good["links"] = links
    return result
