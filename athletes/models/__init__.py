"""WHO: club, people, groups, assignments, permissions, access log."""

from athletes.models.access_log import AccessLogEntry, ChainHead, LogQuestion, PseudonymKey, SignedHead
from athletes.models.accounts import Account, StaffRole
from athletes.models.club import Club, ClubRow, DigitalAge
from athletes.models.codes import Tries
from athletes.models.consents import ConsentForm, ConsentReminder, RulesConfirmed
from athletes.models.corrections import Correction
from athletes.models.groups import EventGroup, GroupMembership, PeopleStep, Squad, SquadMembership
from athletes.models.keeping import (
    ClubPeriod,
    HealthKey,
    HealthStop,
    Hold,
    KeepingRun,
    KeepingStep,
    KeptKind,
    LedgerLine,
    MonthNumbers,
)
from athletes.models.marks import Mark
from athletes.models.people import ContactNumber, Guardianship, Membership, Person
from athletes.models.permissions import (
    Objection,
    PermissionEvent,
    PermissionRecipient,
    Restriction,
    Withholding,
    Wording,
)
from athletes.models.requests import BroughtItem, DataRequest
from athletes.models.roster_files import RosterFile
from athletes.models.sign_ins import RecoveryAsk, SignIn, SignInSheet, UsedCode
from athletes.models.staff import Clearance, CoachAssignment

__all__ = [
    "AccessLogEntry",
    "Account",
    "BroughtItem",
    "ChainHead",
    "Clearance",
    "Club",
    "ClubPeriod",
    "ClubRow",
    "CoachAssignment",
    "ConsentForm",
    "ConsentReminder",
    "ContactNumber",
    "Correction",
    "DataRequest",
    "DigitalAge",
    "EventGroup",
    "GroupMembership",
    "Guardianship",
    "HealthKey",
    "HealthStop",
    "Hold",
    "KeepingRun",
    "KeepingStep",
    "KeptKind",
    "LedgerLine",
    "LogQuestion",
    "Mark",
    "Membership",
    "MonthNumbers",
    "Objection",
    "PeopleStep",
    "PermissionEvent",
    "PermissionRecipient",
    "Person",
    "PseudonymKey",
    "RecoveryAsk",
    "Restriction",
    "RosterFile",
    "RulesConfirmed",
    "SignIn",
    "SignInSheet",
    "SignedHead",
    "Squad",
    "SquadMembership",
    "StaffRole",
    "Tries",
    "UsedCode",
    "Withholding",
    "Wording",
]
