"""What an event and a mark read as."""

from django.utils.translation import gettext as _

from athletes.core.marks import Event, compared_ms, counts, written


def event_words(event: str) -> str:
    """ "100 m", "110 m hurdles", "3000 m steeplechase", "mile"."""
    kind = Event(event)
    if kind is Event.MILE:
        return _("mile")
    said = {"distance": kind.distance_m}
    if event.endswith("sc"):
        return _("%(distance)d m steeplechase") % said
    if event.endswith("h"):
        return _("%(distance)d m hurdles") % said
    return _("%(distance)d m") % said


def time_words(event: str, time_ms: int, *, is_hand: bool) -> str:
    """ "12.64", or by hand "12.4 by hand (as 12.64)": rounded as the rule says, with what it is compared as."""
    official = written(time_ms, is_hand=is_hand)
    if not is_hand:
        return official
    compared = compared_ms(Event(event), time_ms, is_hand=True)
    return _("%(time)s by hand (as %(other)s)") % {"time": official, "other": written(compared, is_hand=False)}


def wind_words(event: str, wind_tenths: int | None) -> str:
    """The wind where it decides; "too much" where the time is no best for it."""
    if not Event(event).has_wind:
        return ""
    if wind_tenths is None:
        return _("no wind reading")
    text = _("wind %(wind)s m/s") % {"wind": f"{wind_tenths / 10:+.1f}"}
    return text if counts(Event(event), wind_tenths) else _("%(wind)s, too much to count") % {"wind": text}
