"""WHEN AND WHAT: venues, season, week, training sessions, entries, features, availability, notices."""

from sessions.models.availability import Availability, OtherSport
from sessions.models.calendar import RosterLeaver, SessionAthlete, SessionCoach, TrainingSession
from sessions.models.calendar_addresses import CalendarAddress, CalendarLine, CalendarSettings
from sessions.models.calendar_readings import BusyTime, CalendarItem, CalendarReading
from sessions.models.cautions import Caution
from sessions.models.emergencies import EmergencyAccess
from sessions.models.entries import Entry, EntryKind, ErasedEntry, HiddenLine, PainDetail
from sessions.models.features import Feature, Focus, Unsuited
from sessions.models.meets import Meet, MeetEntry
from sessions.models.notices import Notice
from sessions.models.paper import PaperSheet, SessionClosing, SessionNote
from sessions.models.plan_changes import PlanChange
from sessions.models.rehearsal import Rehearsal
from sessions.models.season import (
    GroupSettings,
    PatternItem,
    Phase,
    PhasePolicy,
    SeasonPlan,
    SeasonStep,
    WeekModifier,
)
from sessions.models.venues import CoachAbsence, CoachEvening, CoachSettings, Venue, VenueClosing, VenueOpening
from sessions.models.week import Demand, DraftStep, Placement, Proposal, Publishing, WeekPlan

__all__ = [
    "Availability",
    "BusyTime",
    "CalendarAddress",
    "CalendarItem",
    "CalendarLine",
    "CalendarReading",
    "CalendarSettings",
    "Caution",
    "CoachAbsence",
    "CoachEvening",
    "CoachSettings",
    "Demand",
    "DraftStep",
    "EmergencyAccess",
    "Entry",
    "EntryKind",
    "ErasedEntry",
    "Feature",
    "Focus",
    "GroupSettings",
    "HiddenLine",
    "Meet",
    "MeetEntry",
    "Notice",
    "OtherSport",
    "PainDetail",
    "PaperSheet",
    "PatternItem",
    "Phase",
    "PhasePolicy",
    "Placement",
    "PlanChange",
    "Proposal",
    "Publishing",
    "Rehearsal",
    "RosterLeaver",
    "SeasonPlan",
    "SeasonStep",
    "SessionAthlete",
    "SessionClosing",
    "SessionCoach",
    "SessionNote",
    "TrainingSession",
    "Unsuited",
    "Venue",
    "VenueClosing",
    "VenueOpening",
    "WeekModifier",
    "WeekPlan",
]
