"""The class of every model field that could say something about somebody (the permissions contract, evidence and log).

`personal`: about a person; `special`: about health; `free_text`: words that somebody typed, which may say anything;
`other_person`: about another person than whose row it is; `none`: about nobody, or a number, code or day of the
product's own. What needs no line here is worked out: links to tables that are not people, keys, and numbers, days, yes
or no and fixed choices in tables that lead to no person.
"""

PERSONAL, SPECIAL, FREE_TEXT, OTHER_PERSON, NONE = "personal", "special", "free_text", "other_person", "none"

CLASSES: dict[str, dict[str, str]] = {
    # WHO
    "AccessLogEntry": {
        PERSONAL: "actor subject",
        NONE: "actor_role verb kind fields code request_id prev_hash hash",
    },
    "ChainHead": {NONE: "hash"},
    "SignedHead": {NONE: "hash witness signature"},
    "LogQuestion": {
        PERSONAL: "athlete asked_by asked_at",
        FREE_TEXT: "words answer",
        OTHER_PERSON: "answered_by",
        NONE: "seq answered_at",
    },
    "PseudonymKey": {PERSONAL: "person year key pseudonym"},
    "Account": {
        PERSONAL: "person username password last_login is_active handed_over sheet_made_at signed_out_at",
        NONE: "is_demo",
    },
    "StaffRole": {PERSONAL: "person role first_day last_day"},
    "Club": {NONE: "name timezone country emergency_number", OTHER_PERSON: "health_contact"},
    "DigitalAge": {NONE: "country source"},
    "ConsentForm": {PERSONAL: "giver number code_hash tries made_at good_until used_at", OTHER_PERSON: "made_by"},
    "ConsentReminder": {PERSONAL: "giver number at", OTHER_PERSON: "sent_by"},
    "RulesConfirmed": {PERSONAL: "by_name entered_by confirmed_on", NONE: "book country digital_age"},
    "Tries": {PERSONAL: "key failed_at"},
    "SignIn": {PERSONAL: "person session_key method device is_shared began_at seen_at"},
    "SignInSheet": {
        PERSONAL: "person number code_hash tries made_at good_until used_at in_person lifts_factor",
        OTHER_PERSON: "made_by asked_by",
    },
    "RecoveryAsk": {PERSONAL: "person asked_at ended_at", OTHER_PERSON: "asked_by"},
    "Correction": {PERSONAL: "person what row at request", FREE_TEXT: "before after", OTHER_PERSON: "by"},
    "EventGroup": {NONE: "name"},
    "Squad": {NONE: "name"},
    "GroupMembership": {PERSONAL: "athlete first_day last_day"},
    "SquadMembership": {PERSONAL: "athlete first_day last_day"},
    "ClubPeriod": {FREE_TEXT: "reason"},
    "HealthKey": {SPECIAL: "athlete made_at"},
    "HealthStop": {SPECIAL: "athlete since"},
    "Hold": {PERSONAL: "athlete set_on review_by lifted_on", FREE_TEXT: "reference", OTHER_PERSON: "set_by lifted_by"},
    "KeepingStep": {OTHER_PERSON: "confirmed_by", NONE: "keeper total due removed kind state confirmed_at"},
    "LedgerLine": {PERSONAL: "pseudonym ids", NONE: "what"},
    "MonthNumbers": {NONE: "numbers"},
    "ContactNumber": {PERSONAL: "athlete order may_collect", OTHER_PERSON: "name relation phone entered_by"},
    "Guardianship": {
        PERSONAL: "athlete authority first_day last_day papers_seen_on",
        OTHER_PERSON: "guardian papers_seen_by",
    },
    "Membership": {PERSONAL: "athlete first_day last_day notice_shown_on weekly_minutes_cap is_trial"},
    "Person": {PERSONAL: "given_name family_name birth_date home_country email phone left_on search_name"},
    "Objection": {PERSONAL: "athlete purpose first_day last_day"},
    "Restriction": {PERSONAL: "athlete purpose first_day last_day"},
    "Withholding": {PERSONAL: "athlete first_day last_day", OTHER_PERSON: "guardian set_by"},
    "PermissionEvent": {
        PERSONAL: "athlete giver capacity purpose answer at until method evidence child_view",
        OTHER_PERSON: "about_guardian entered_by witness",
    },
    "PermissionRecipient": {OTHER_PERSON: "person"},
    "Wording": {NONE: "purpose language question explanation"},
    "BroughtItem": {PERSONAL: "athlete kind item_id made_at from_club brought_at", FREE_TEXT: "content"},
    "DataRequest": {
        PERSONAL: "athlete asked_by capacity kind what received_on due_on extended_on state code ended_on",
        FREE_TEXT: "words extended_because answer kept",
        OTHER_PERSON: "acted_by entered_by",
    },
    "Clearance": {PERSONAL: "coach kind seen_on expires_on"},
    "CoachAssignment": {PERSONAL: "coach first_day last_day"},
    "PeopleStep": {OTHER_PERSON: "by", PERSONAL: "changes", NONE: "what at undone_at"},
    "RosterFile": {
        PERSONAL: "content choices preview made",
        FREE_TEXT: "options",
        OTHER_PERSON: "by",
        NONE: "at state progress applied_at",
    },
    "Mark": {PERSONAL: "athlete event time_ms is_hand wind_tenths run_on", OTHER_PERSON: "entered_by"},
    # WHEN AND WHAT
    "OtherSport": {
        PERSONAL: "athlete effort first_day last_day part starts ends minutes said_as said_at",
        OTHER_PERSON: "said_by",
    },
    "Availability": {PERSONAL: "athlete starts_at ends_at state option said_as said_at", OTHER_PERSON: "said_by"},
    "RosterLeaver": {PERSONAL: "athlete taken_off_at"},
    "SessionAthlete": {PERSONAL: "athlete comes seen_at"},
    "SessionCoach": {PERSONAL: "coach part taken_off_at"},
    "TrainingSession": {FREE_TEXT: "title place bring change_words", NONE: "also"},
    "Entry": {
        PERSONAL: "athlete kind stride at device seq replaces withdrawn by_athlete received_at",
        FREE_TEXT: "content",
        OTHER_PERSON: "by",
    },
    "PainDetail": {SPECIAL: "athlete sealed"},
    "Feature": {NONE: "code", FREE_TEXT: "label description"},
    "Unsuited": {PERSONAL: "athlete since", FREE_TEXT: "words", OTHER_PERSON: "set_by"},
    "HiddenLine": {PERSONAL: "athlete hidden_on"},
    "Focus": {PERSONAL: "athlete since until stop_asked_on", OTHER_PERSON: "set_by"},
    "Notice": {
        PERSONAL: "to kind entry_id in_app_only made_at seen_at mailed_at reached_at",
        OTHER_PERSON: "about reached_by",
    },
    "EmergencyAccess": {
        PERSONAL: "athlete opened_as opened_at until ended_at",
        FREE_TEXT: "reason",
        OTHER_PERSON: "opened_by",
    },
    "PaperSheet": {OTHER_PERSON: "printed_by", PERSONAL: "rows", NONE: "number printed_at"},
    "SessionClosing": {OTHER_PERSON: "closed_by", NONE: "closed_at adults visitors"},
    "SessionNote": {PERSONAL: "by at", FREE_TEXT: "text", OTHER_PERSON: "to"},
    "Rehearsal": {
        OTHER_PERSON: "asked_by",
        PERSONAL: "result wanted",
        NONE: "asked_at stop_wanted progress failure ended_at state revision",
    },
    "GroupSettings": {FREE_TEXT: "effort_words", NONE: "policy"},
    "PatternItem": {NONE: "also"},
    "Phase": {FREE_TEXT: "name"},
    "PhasePolicy": {NONE: "policy"},
    "SeasonPlan": {FREE_TEXT: "name"},
    "SeasonStep": {OTHER_PERSON: "by", PERSONAL: "before after", NONE: "revision what at undone_at"},
    "WeekModifier": {FREE_TEXT: "reason"},
    "CoachAbsence": {PERSONAL: "coach starts_at ends_at"},
    "CoachEvening": {PERSONAL: "coach weekday starts ends first_day last_day"},
    "CoachSettings": {PERSONAL: "coach max_sessions_per_day"},
    "Venue": {NONE: "name"},
    "VenueClosing": {FREE_TEXT: "reason"},
    "Demand": {NONE: "also windows preferred"},
    "DraftStep": {OTHER_PERSON: "by", PERSONAL: "before after", NONE: "revision what at undone_at"},
    "Publishing": {OTHER_PERSON: "by", PERSONAL: "before state", NONE: "revision at people undone_at"},
    "Caution": {OTHER_PERSON: "by", NONE: "kind at taken_back_at"},
    "Placement": {PERSONAL: "reasons"},
    "Proposal": {
        OTHER_PERSON: "asked_by",
        PERSONAL: "problem plan",
        NONE: "asked_at stop_wanted progress failure based_on_revision state",
    },
    "WeekPlan": {
        OTHER_PERSON: "changed_by published_by",
        NONE: "monday revision changed_at published_revision published_at",
    },
    "CalendarAddress": {
        PERSONAL: "person secret_hash made_at stopped_at fetched_at hour_began_at answers",
        NONE: "told_state",
    },
    "CalendarLine": {
        PERSONAL: "reader uid sequence changed_at cancelled_at kinds starts_at ends_at place",
        OTHER_PERSON: "about",
    },
    "Meet": {FREE_TEXT: "travel"},
    "MeetEntry": {PERSONAL: "athlete event own_mark minutes", FREE_TEXT: "result"},
    "BusyTime": {FREE_TEXT: "title"},
    "CalendarReading": {
        OTHER_PERSON: "read_by",
        FREE_TEXT: "file_name refused changes",
        NONE: "becomes groups state events is_cut without_id read_at",
    },
    "CalendarItem": {NONE: "scope uid instance"},
    # The house
    "Job": {NONE: "task"},
}
