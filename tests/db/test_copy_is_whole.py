"""The copy is whole: every column about a person changes it, or is named here with the reason why it stays out."""

from datetime import date, datetime, time, timedelta
from uuid import uuid4

from django.apps import apps
from django.db import models, transaction
from django.utils import timezone

from athletes import models as who
from athletes.models import Person
from athletes.services.copies import copy_of
from athletes.viewer import viewer_for
from athletes.web.copies import KIND_WORDS
from sessions import models as when
from tests.people import (
    answer,
    make_athlete,
    make_feature,
    make_group,
    make_guardian,
    make_person,
    make_session,
    make_sheet,
)

CLUB_ACTS = "who acted for the club: it stands in the access log, by role"
OTHERS = "about another person, who stands in a copy by role alone"
DRAFT = "a draft is work in progress; what is published stands in rosters and work"
LINK = "says which row it belongs to; that row's own item tells it"

WITHOUT = {
    who.PermissionRecipient: "other people: the answer says how many it names",
    who.PseudonymKey: "a secret: with it the lines of the log are found, which stand in the copy",
    who.HealthKey: "a secret: what it seals stands in the copy, opened",
    who.HealthStop: "worked out each night from the answers, which stand in the copy",
    who.SignInSheet: "a sheet's number and hashed code for 14 days; that it waits stands in the copy",
    who.RecoveryAsk: CLUB_ACTS,
    who.ConsentForm: "a paper's number and hashed code for 14 days; what is answered with it stands in the copy",
    who.KeepingStep: CLUB_ACTS,
    who.PeopleStep: "who acted for the club; whom it was about stands in groups, guardians and work",
    who.RosterFile: "a file on its way in, for 14 days; what came of it stands in the record",
    who.RulesConfirmed: CLUB_ACTS,
    when.PainDetail: "sealed: it stands in the item of its entry, opened",
    when.HiddenLine: "how the own page is set; the line itself stands in the copy",
    when.SessionClosing: CLUB_ACTS,
    when.Caution: CLUB_ACTS,
    when.WeekPlan: CLUB_ACTS,
    when.Publishing: CLUB_ACTS,
    when.Proposal: CLUB_ACTS,
    when.Rehearsal: CLUB_ACTS,
    when.CalendarReading: CLUB_ACTS,
    when.SeasonStep: CLUB_ACTS,
    when.DraftStep: CLUB_ACTS,
    when.Demand.coaches.through: DRAFT,
    when.Demand.qualified.through: DRAFT,
    when.Placement.coaches.through: DRAFT,
    when.Placement.excused.through: DRAFT,
    when.Placement.away.through: DRAFT,
    when.Placement.easier.through: DRAFT,
    when.PatternItem.coaches.through: DRAFT,
    when.PatternItem.qualified.through: DRAFT,
}
"""Models with a way to a person of which nothing stands in the copy, and why."""

COLUMNS_WITHOUT = {
    who.Person: {"search_name": "the name again, folded; the name stands at the head of the copy"},
    who.Account: {"password": "a secret", "is_demo": "says that the club is invented"},
    who.SignIn: {"session_key": "a secret"},
    who.StaffRole: {},
    who.Membership: {},
    who.GroupMembership: {},
    who.SquadMembership: {},
    who.Correction: {"by": CLUB_ACTS, "row": LINK},
    who.Guardianship: {"guardian": OTHERS, "papers_seen_by": CLUB_ACTS},
    who.ContactNumber: {"name": OTHERS, "phone": OTHERS, "entered_by": CLUB_ACTS},
    who.CoachAssignment: {},
    who.Clearance: {},
    who.Mark: {"entered_by": CLUB_ACTS},
    who.PermissionEvent: {"witness": OTHERS},
    who.ConsentReminder: {"sent_by": CLUB_ACTS},
    who.DataRequest: {"acted_by": CLUB_ACTS, "entered_by": CLUB_ACTS},
    who.Restriction: {},
    who.Objection: {},
    who.Withholding: {"guardian": OTHERS, "set_by": CLUB_ACTS},
    who.Hold: {
        "reference": "the name of a paper file of the club, nothing about the athlete",
        "set_by": CLUB_ACTS,
        "lifted_by": CLUB_ACTS,
    },
    who.LogQuestion: {"answered_by": CLUB_ACTS},
    who.BroughtItem: {},
    when.Entry: {
        "device": "which phone sent it: a number of the server's own",
        "replaces": "ties two entries together; both stand in the copy",
        "training_session": "told by its start, which a test of its own changes",
        "seq": "the order in which the server took it in: its time tells that",
        "by_athlete": "follows from who said it, which the source tells",
    },
    when.Focus: {"set_by": CLUB_ACTS},
    when.Unsuited: {"set_by": CLUB_ACTS},
    when.Availability: {},
    when.OtherSport: {},
    when.SessionAthlete: {},
    when.RosterLeaver: {},
    when.SessionCoach: {},
    when.SessionNote: {"to": OTHERS, "training_session": LINK},
    when.PaperSheet: {"printed_by": CLUB_ACTS, "training_session": LINK},
    when.Notice: {"about": OTHERS, "reached_by": CLUB_ACTS},
    when.EmergencyAccess: {"opened_by": CLUB_ACTS},
    when.CoachSettings: {},
    when.CoachEvening: {},
    when.CoachAbsence: {},
    when.CalendarAddress: {
        "secret_hash": "a secret",
        "hour_began_at": "counts fetches for an hour",
        "answers": "counts fetches for an hour",
        "told_state": "which state of the club's plan the lines are of",
    },
    when.CalendarLine: {"about": OTHERS},
    when.MeetEntry: {"mark": "the mark stands in the copy itself"},
}
"""Models in the copy, each with the columns that stay out and why. Every other column has to change the copy."""

EVERYWHERE = {"id", "club"}


def about_people():
    """Every model with a column or a list that leads to a person."""
    for model in apps.get_models(include_auto_created=True):
        leads = [one for one in model._meta.get_fields() if isinstance(one, models.ForeignKey)]
        if model is Person or any(one.related_model is Person for one in leads):
            yield model


def test_every_model_about_people_is_in_the_copy_or_says_why_not():
    found = set(about_people())
    assert found - set(WITHOUT) - set(COLUMNS_WITHOUT) == set(), "a new model: add it to the copy, or say why not"
    assert (set(WITHOUT) | set(COLUMNS_WITHOUT)) - found == set()
    assert set(WITHOUT) & set(COLUMNS_WITHOUT) == set()
    for model, columns in COLUMNS_WITHOUT.items():
        assert columns.keys() <= {field.name for field in model._meta.concrete_fields}


def make_everything(scene):
    """An adult athlete of whom every table holds one row: an athlete, a helper, a guardian of somebody."""
    club, group, today = scene.club, scene.group, date(2026, 3, 2)
    noon = datetime(2026, 3, 2, 12, tzinfo=timezone.get_default_timezone())
    one = make_athlete(club, "Tova", group, age=25)
    guardian = make_guardian(one, "Gundula")
    make_guardian_link(one, scene.child)
    make_person(club, "Nobody")
    squad = who.Squad.objects.create(club=club, name="Seniors")
    rows = {"club": club}
    who.Squad.objects.create(club=club, name="Juniors")
    make_group(club, "Hurdles"), make_feature(club, "quick_feet", "Quick feet")
    for model, said in (
        (who.SquadMembership, {"athlete": one, "squad": squad, "first_day": today}),
        (who.StaffRole, {"person": one, "role": "coach", "first_day": today}),
        (who.CoachAssignment, {"coach": one, "group": group, "first_day": today}),
        (who.Clearance, {"coach": one, "kind": "first_aid", "seen_on": today, "expires_on": today}),
        (who.ContactNumber, {"athlete": one, "name": "Gundula", "relation": "mother", "phone": "1"}),
        (who.Mark, {"athlete": one, "event": "100", "time_ms": 12640, "run_on": today, "entered_by": scene.coach}),
        (who.SignIn, {"person": one, "session_key": "a", "began_at": noon, "seen_at": noon}),
        (who.Restriction, {"athlete": one, "purpose": "share", "first_day": today}),
        (who.Objection, {"athlete": one, "purpose": "feedback", "first_day": today}),
        (who.Withholding, {"athlete": one, "guardian": guardian, "set_by": scene.welfare, "first_day": today}),
        (who.Hold, {"athlete": one, "reference": "A1", "set_on": today, "set_by": scene.admin, "review_by": today}),
        (who.ConsentReminder, {"giver": one, "number": 1, "at": noon, "sent_by": scene.admin}),
        (who.LogQuestion, {"athlete": one, "asked_by": one, "seq": 1, "words": "why", "asked_at": noon}),
        (
            who.BroughtItem,
            {
                "athlete": one, "kind": "log", "item_id": "1", "made_at": "2020", "content": {"rpe": 4},
                "from_club": "Far", "brought_at": noon,
            },
        ),
        (
            who.DataRequest,
            {
                "athlete": one, "asked_by": one, "capacity": "athlete", "kind": "access", "received_on": today,
                "due_on": today, "code": "OWN_DATA", "entered_by": one,
            },
        ),
        (
            who.Correction,
            {
                "person": one, "what": "person", "row": one.pk, "before": {"phone": "1"}, "after": {"phone": "2"},
                "at": noon, "by": one,
            },
        ),
        (
            when.Unsuited,
            {"athlete": one, "feature": scene.feature, "words": "up", "since": today, "set_by": scene.coach},
        ),
        (when.Focus, {"athlete": one, "feature": scene.feature, "since": today, "set_by": scene.coach}),
        (
            when.Availability,
            {
                "athlete": one, "starts_at": noon, "ends_at": noon, "state": "run", "said_by": one,
                "said_as": "athlete", "said_at": noon,
            },
        ),
        (
            when.OtherSport,
            {
                "athlete": one, "effort": "hard", "first_day": today, "last_day": today, "part": "evening",
                "starts": time(17), "ends": time(21), "minutes": 90, "said_by": one, "said_as": "athlete",
                "said_at": noon,
            },
        ),
        (when.CoachSettings, {"coach": one}),
        (when.CalendarAddress, {"person": one, "secret_hash": "x", "made_at": noon}),
        (
            when.CalendarLine,
            {"reader": one, "uid": uuid4(), "changed_at": noon, "kinds": "easy", "starts_at": noon, "ends_at": noon},
        ),
        (
            when.EmergencyAccess,
            {
                "athlete": one, "opened_by": scene.coach, "opened_as": "coach", "reason": "fell", "opened_at": noon,
                "until": noon,
            },
        ),
        (when.CoachAbsence, {"coach": one, "starts_at": noon, "ends_at": noon}),
        (
            when.CoachEvening,
            {"coach": one, "weekday": 1, "starts": time(18), "ends": time(20), "first_day": today},
        ),
    ):  # fmt: skip
        model.objects.create(**rows, **said)
    session = make_session(group, day=today, athletes=(one,))
    for model, said in (
        (when.RosterLeaver, {"athlete": one, "taken_off_at": noon}),
        (when.SessionCoach, {"coach": one}),
        (when.SessionNote, {"by": one, "at": noon, "text": "wind"}),
        (when.Notice, {"to": one, "kind": "moved", "made_at": noon}),
        (
            when.Entry,
            {
                "athlete": one, "seq": 1, "kind": "felt", "at": "2026", "device": "phone", "by": one,
                "by_athlete": True, "received_at": noon, "content": {"rpe": 4},
            },
        ),
    ):  # fmt: skip
        model.objects.create(**(rows if model is not when.Entry else {"club": club}), training_session=session, **said)
    when.MeetEntry.objects.create(club=club, training_session=session, athlete=one, event="100 m")
    when.PaperSheet.objects.all().delete()
    make_sheet(session, scene.coach, one)
    answer(one, one, "health", "yes", names=(scene.coach,))
    make_session(group, day=today + timedelta(days=1))
    return one


def make_guardian_link(guardian, athlete):
    who.Guardianship.objects.create(
        club=athlete.club, guardian=guardian, athlete=athlete, authority="full", first_day=date(2026, 3, 2)
    )


def rows_of(model, person):
    """The rows that are this person's own."""
    if model is Person:
        return model._base_manager.filter(pk=person.pk)
    if model is when.PaperSheet:
        return model._base_manager.filter(training_session__session_athletes__athlete=person)
    leads = [field.name for field in model._meta.concrete_fields if field.related_model is Person]
    own = next((name for name in ("athlete", "by", "to", "giver") if name in leads), leads[0])
    return model._base_manager.filter(**{own: person})


def other_value(field, row):
    """Another value that the column could hold."""
    now = getattr(row, field.attname)
    if isinstance(field, models.ForeignKey):
        others = field.related_model._base_manager.exclude(pk=now)
        if hasattr(field.related_model, "club"):
            others = others.filter(club=row.club_id if hasattr(row, "club_id") else row.person.club_id)
        if field.related_model is Person:
            leads = [one for one in row._meta.concrete_fields if one.related_model is Person]
            others = others.exclude(pk__in=[getattr(row, one.attname) for one in leads if getattr(row, one.attname)])
        if field.unique:
            others = others.exclude(pk__in=type(row)._base_manager.values(field.attname))
        found = others.order_by("pk").last()
        assert found is not None, f"make a second {field.related_model.__name__}"
        return found.pk
    if field.choices:
        return next(value for value, _ in field.flatchoices if value not in (now, ""))
    match field.get_internal_type():
        case "BooleanField":
            return not now
        case "DateField":
            return (now or date(2020, 1, 1)) + timedelta(days=1)
        case "DateTimeField":
            return (now or timezone.now()) + timedelta(hours=1)
        case "TimeField":
            return time(now.hour + 1)
        case "JSONField":
            return changed_json(now)
        case "UUIDField":
            return "00000000-0000-0000-0000-000000000009"
        case name if "Integer" in name:
            return (now or 0) + 1
    return "ZZ" if field.max_length == 2 else f"x{now}"[: field.max_length]


def changed_json(now):
    if isinstance(now, list):
        return [{**one, "strides": 99} for one in now]
    return {**now, "rpe": 9, "words": "changed"}


def told(viewer):
    """The viewer's own copy as it stands, but when it was made."""
    copy = copy_of(viewer=viewer, athlete=Person.objects.get(pk=viewer.person_id))
    return [copy["athlete"], copy["items"]]


def silent_columns(model, viewer, before):
    """The columns of the person's first row in which another value leaves the copy as it was."""
    row = rows_of(model, viewer.person).order_by("pk").first()
    assert row is not None, f"make a row of {model.__name__}"
    for field in model._meta.concrete_fields:
        if field.name in EVERYWHERE | COLUMNS_WITHOUT[model].keys() or field.primary_key:
            continue
        with transaction.atomic():
            model._base_manager.filter(pk=row.pk).update(**{field.attname: other_value(field, row)})
            if told(viewer) == before:
                yield f"{model.__name__}.{field.name}"
            transaction.set_rollback(True)


def test_every_column_changes_the_copy_or_says_why_not(scene):
    viewer = viewer_for(make_everything(scene), "athlete")
    before = told(viewer)
    silent = [one for model in COLUMNS_WITHOUT for one in silent_columns(model, viewer, before)]
    assert silent == [], "columns that the copy does not tell: add them, or say why not"


def test_an_entry_tells_its_session_by_its_start(scene):
    viewer = viewer_for(make_everything(scene), "athlete")
    starts = []
    for _ in range(2):
        [entry] = [one for one in told(viewer)[1] if "entry" in one["content"] and one["kind"] == "log"]
        starts.append(entry["content"]["session"])
        when.TrainingSession.objects.update(ends_at=models.F("ends_at") + timedelta(hours=1))
        when.TrainingSession.objects.update(starts_at=models.F("starts_at") + timedelta(minutes=5))
    assert starts[0] != starts[1]


def test_every_kind_has_words_and_the_page_shows_all(scene, signed_in):
    person = make_everything(scene)
    copy = copy_of(viewer=viewer_for(person, "athlete"), athlete=person)
    assert {one["kind"] for one in copy["items"]} <= KIND_WORDS.keys()
    page = signed_in(person).get(f"/athlete/copy/{person.pk}")
    assert page.status_code == 200
    assert "mother, may not collect" in page.content.decode()
    assert "Gundula" not in page.content.decode()
