"""What a rehearsal of a season says in sentences: verdicts, what blocks a session, the change that helps most."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from sessions.core.season_document import Document, Fault
from sessions.models.season import Kind
from sessions.models.venues import Weekday
from sessions.week_words import LEFT_OUT, WeekNames, joined, session_words

Label = str | Promise
FAULTS: dict[Fault, Label] = {
    Fault.OUTSIDE: _("The weeks have to lie inside the season, and inside the phase that is cut."),
    Fault.BACKWARDS: _("The last week has to be the first one or later."),
    Fault.SWALLOWED: _("A phase beside it would have no week left. Take that phase out first."),
    Fault.OVERLAP: _("Those weeks belong to another phase already."),
    Fault.NOT_THERE: _("Somebody took it out meanwhile."),
}
VERDICTS: dict[str, Label] = {
    "holds": _("holds"),
    "cannot": _("cannot hold"),
    "open": _("not known in the time allowed"),
    "lost": _("no longer holds"),
    "empty": _("nothing is asked of it any more"),
    "waits": _("not yet looked at"),
}
_FIELDS: dict[str, Label] = {
    "duration_min": _("%(session)s in %(to)s minutes"),
    "observers": _("%(session)s with coaches: %(to)s"),
    "lanes": _("%(session)s on lanes: %(to)s"),
}
_PATHS: dict[str, Label] = {
    "rest_days_per_week": _("%(whose)s: rest days a week: %(to)s"),
    "sessions_per_day": _("%(whose)s: sessions a day: %(to)s"),
    "max_excused_share": _("%(whose)s: share excused from a session: %(to)s"),
    "excusals_per_week": _("%(whose)s: times excused a week: %(to)s"),
    "travel_min": _("%(whose)s: minutes from venue to venue: %(to)s"),
}


def pattern_names(documents: Sequence[Document], groups: Mapping[str, str]) -> dict[str, str]:
    """What the sessions of a season's pattern are called."""
    return {
        row["id"]: session_words(groups.get(row["group"], ""), row["kind"], row["also"])
        for document in documents
        for row in document["patterns"]
    }


def help_sentence(change: Mapping[str, Any], names: WeekNames) -> str:
    """The single change of the season that lets most weeks hold: "Rona comes Tue 16:00–17:00"."""
    verb = change["verb"]
    if verb == "add_window":
        name = names.session(change["demand"])
        return gettext("%(session)s may also lie %(spans)s") % {"session": name, "spans": _spans(change)}
    if verb == "add_available":
        name = names.people([change["coach"]])
        return gettext("%(coach)s comes %(spans)s too") % {"coach": name, "spans": _spans(change)}
    if verb == "add_open":
        name = names.venues.get(change["venue"], "")
        return gettext("%(venue)s is open %(spans)s too") % {"venue": name, "spans": _spans(change)}
    if verb == "move_fixed":
        return gettext("%(session)s lies elsewhere") % {"session": names.session(change["id"])}
    if verb == "drop_fixed":
        return gettext("%(session)s does not take place") % {"session": names.session(change["id"])}
    if verb == "set_demand":
        words = str(_FIELDS[change["field"]])
        return words % {"session": names.session(change["id"]), "to": change["to"]}
    return _policy(change, names)


def _policy(change: Mapping[str, Any], names: WeekNames) -> str:
    whose = names.groups.get(change.get("group", ""), gettext("Every group"))
    path = change["path"]
    if path in _PATHS:
        return str(_PATHS[path]) % {"whose": whose, "to": change["to"]}
    _table, earlier, later = path.split(".")
    told = {"whose": whose, "to": change["to"], "earlier": Kind(earlier).label, "later": Kind(later).label}
    return gettext("%(whose)s: %(to)s h from %(earlier)s to %(later)s") % told


def lost_sentences(row: Mapping[str, Any], names: WeekNames) -> list[str]:
    """Why one session has no place in a week."""
    if "left_out" in row:
        return [str(LEFT_OUT[row["left_out"]])]
    return [names.told(reason["text"]) for reason in row["because"]]


def weeks_words(mondays: Sequence[str]) -> str:
    """ "week 12 (15 Mar) and week 14 (29 Mar)"."""
    days = [date.fromisoformat(monday) for monday in mondays]
    return joined([week_name(day) for day in days])


def week_name(monday: date) -> str:
    """ "week 12 (15 Mar)", by ISO 8601."""
    told = {"number": monday.isocalendar().week, "day": date_format(monday, "j M")}
    return gettext("week %(number)d (%(day)s)") % told


def helped_words(count: int) -> str:
    """How many weeks would hold then."""
    return ngettext("%(count)d week would hold then", "%(count)d weeks would hold then", count) % {"count": count}


def _spans(change: Mapping[str, Any]) -> str:
    rows = change.get("spans", ())
    hours = {(row["from"], row["until"]) for row in rows}
    if len(rows) == len(Weekday) and len(hours) == 1:
        [(starts, ends)] = hours
        return gettext("every day %(starts)s–%(ends)s") % {"starts": starts, "ends": ends}
    return joined([f"{Weekday(row['weekday']).label} {row['from']}–{row['until']}" for row in rows])
