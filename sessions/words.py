"""What training sessions, strides and words used are called: said alike by pages and API."""

from datetime import time, timedelta

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.timezone import localtime
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sessions.models import CoachAbsence, OtherSport, TrainingSession, VenueClosing

Label = str | Promise

SHOWN: dict[str, Label] = {"held": _("Held"), "partly": _("Partly"), "not_yet": _("Not yet")}
SHOWN_WITHIN: dict[str, Label] = {"held": _("held"), "partly": _("partly"), "not_yet": _("not yet")}
HOW: dict[str, Label] = {"told": _("told"), "shown": _("shown"), "other_words": _("other words")}
UNDERSTOOD: dict[str, Label] = {"yes": _("understood"), "no": _("not understood"), "not_asked": _("not asked")}
PLACES: dict[str, Label] = {
    "foot": _("Foot"),
    "ankle": _("Ankle"),
    "lower_leg": _("Lower leg"),
    "knee": _("Knee"),
    "thigh": _("Thigh"),
    "hip": _("Hip"),
    "back": _("Back"),
    "chest": _("Chest"),
    "head": _("Head"),
    "unwell": _("Unwell"),
    "other": _("Elsewhere"),
}
SIDES: dict[str, Label] = {"left": _("left"), "right": _("right"), "both": _("both sides")}
PRESENCE: dict[str, Label] = {
    "came": _("here"),
    "late": _("late"),
    "away": _("away"),
    "left": _("left"),
    "collected": _("collected"),
}
TYPES: dict[str, Label] = {"strength": _("a strength"), "adjustment": _("to work on")}
FOCUSES: dict[str, Label] = {"outside": _("on something outside"), "body": _("on the body")}


def session_name(training_session: TrainingSession) -> str:
    """A training session's own name: its title, else its groups and kind ("Sprint technique")."""
    if training_session.title:
        return training_session.title
    groups = ", ".join(group.name for group in training_session.groups.all())
    return f"{groups} {training_session.get_kind_display()}".strip()


def place_name(training_session: TrainingSession) -> str:
    """Where it is: the venue's name, or the place of a meet."""
    return training_session.venue.name if training_session.venue else training_session.place


def stretch_words(row: VenueClosing | CoachAbsence) -> str:
    """ "Tue 1 Dec", "Mon 14 Dec – Sun 20 Dec", "Tue 1 Dec 17:00 – Tue 1 Dec 19:00", on the clock of the page."""
    starts, ends = localtime(row.starts_at), localtime(row.ends_at)
    if starts.time() == ends.time() == time():
        days = (date_format(starts, "D j M Y"), date_format(ends - timedelta(days=1), "D j M Y"))
        return " – ".join(dict.fromkeys(days))
    return " – ".join(date_format(one, "D j M Y H:i") for one in (starts, ends))


def other_sport_line(row: OtherSport) -> str:
    """ "Wed 2 Dec, evening, hard, about 90 min"; "every Wed, 2 Dec to 20 Jan, 17:00–18:30, easy"."""
    first, last = (date_format(day, "j M") for day in (row.first_day, row.last_day))
    told = {"day": date_format(row.first_day, "D"), "first": first, "last": last}
    days = gettext("every %(day)s, %(first)s to %(last)s") if row.last_day > row.first_day else "%(day)s %(first)s"
    hours = row.get_part_display() if row.part else f"{row.starts:%H:%M}–{row.ends:%H:%M}"
    parts = [days % told, hours, row.get_effort_display()]
    if row.part:
        parts.append(gettext("about %(minutes)d min") % {"minutes": row.minutes})
    return ", ".join(str(part) for part in parts)
