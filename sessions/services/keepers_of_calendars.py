"""Keepers of calendars: secret addresses and what they told, meets' entries, files that were read."""

from datetime import timedelta

from django.db.models import Q

from athletes.models import KeptKind
from athletes.services.closings import Noted, note_closings
from athletes.services.keepers import Keeper, Night, before_counting, needs_no_keeper, part_of_record, register
from sessions.models import (
    BusyTime,
    CalendarAddress,
    CalendarItem,
    CalendarLine,
    CalendarReading,
    CalendarSettings,
    Meet,
    MeetEntry,
    PlanChange,
)


def register_all() -> None:
    """Called once, when the app is ready."""
    note_closings(Noted("calendar_address", CalendarAddress, "stopped_at"))
    before_counting(_forget_plan_changes)
    register(
        Keeper(
            "calendar_addresses", KeptKind.SIGN_IN, CalendarAddress,
            lambda night: Q(stopped_at__lt=night.instant(KeptKind.SIGN_IN)), whose="person",
        ),
        Keeper(
            "calendar_lines", KeptKind.PLAN, CalendarLine,
            lambda night: Q(ends_at__lt=night.instant(KeptKind.PLAN)), whose="about", part=Q(about__isnull=False),
        ),
        Keeper(
            "calendar_lines_of_coaches", KeptKind.PLAN, CalendarLine,
            lambda night: Q(ends_at__lt=night.instant(KeptKind.PLAN)), whose="reader", part=Q(about=None),
        ),
        Keeper(
            "meet_entries", KeptKind.ATTENDANCE, MeetEntry,
            lambda night: Q(training_session__ends_at__lt=night.instant(KeptKind.ATTENDANCE)), whose="athlete",
        ),
        Keeper(
            "calendar_files", KeptKind.PLAN, CalendarReading,
            lambda night: Q(read_at__lt=night.instant(KeptKind.PLAN)), whose="read_by",
        ),
        Keeper("busy_times", KeptKind.PLAN, BusyTime, lambda night: Q(ends_at__lt=night.instant(KeptKind.PLAN))),
    )  # fmt: skip
    part_of_record((CalendarAddress, "person"), (CalendarLine, "reader"), (CalendarLine, "about"))
    needs_no_keeper(CalendarSettings, "the club's own")
    needs_no_keeper(CalendarItem, "goes with the row that it became")
    needs_no_keeper(Meet, "goes with its session: closing day and travel")
    needs_no_keeper(PlanChange, "that a club's plan changed, nobody's; every night removes those of the days before")


def _forget_plan_changes(night: Night) -> None:
    """What was noted before yesterday: a calendar program's state holds the day, so that it asks anew anyway."""
    PlanChange.objects.filter(club=night.club, at__lt=night.instant_now - timedelta(days=1)).delete()
