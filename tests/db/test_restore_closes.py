"""A restore from an older backup opens nothing: what was closed since is closed again, one kind after the other."""

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random
from uuid import UUID

import pytest
from allauth.mfa.models import Authenticator
from django.core.management import call_command
from django.db import transaction
from django.test import Client

from athletes.access import athletes_visible_to
from athletes.health_key import key_file
from athletes.models import (
    Account,
    Clearance,
    Club,
    ClubPeriod,
    CoachAssignment,
    DigitalAge,
    GroupMembership,
    Guardianship,
    HealthKey,
    Hold,
    KeptKind,
    LedgerLine,
    Membership,
    Objection,
    PermissionEvent,
    Person,
    Restriction,
    RosterFile,
    StaffRole,
    Withholding,
)
from athletes.selectors.access_log import chain_fault
from athletes.services.consents import confirm_rules
from athletes.services.erase import erase_kind, repeat_ledger
from athletes.services.form_codes import form_by_code, make_form
from athletes.services.keepers import keeper_named
from athletes.services.ledger import note_removed
from athletes.services.periods import set_period
from athletes.services.requests import Asked, end_request, open_request
from athletes.services.roster_undo import undo_file
from athletes.services.second_factor import (
    add_app,
    check_code,
    factors_of,
    new_app_secret,
    new_recovery_codes,
    remove_factor,
)
from athletes.services.sign_ins import own_viewer
from athletes.services.wordings import write_wording
from athletes.viewer import roles_held, viewer_for
from sessions.models import EmergencyAccess, ErasedEntry, SessionCoach
from sessions.services.emergency_access import close_emergency, open_in_emergency
from teamtrack.common.clock import today_in
from teamtrack.common.errors import NotFound, Refused
from tests.db.test_permission_equality import viewers
from tests.entries import make_pain, see
from tests.factors import code_for
from tests.people import PASSWORD, answer, make_guardian
from tests.random_club import PURPOSES, VIEW_PURPOSES, make_random_club
from tests.sizes import LONG
from tests.web.test_roster_files import HEAD, NEW, ODA, ZOE, apply

YESTERDAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.HEALTH_KEYS_DIR = tmp_path / "keys"
    settings.ERASURE_LEDGER_FILE = tmp_path / "ledger.jsonl"
    settings.LOG_HEADS_FILE = tmp_path / "heads.jsonl"
    return tmp_path


def today(scene):
    return today_in(scene.club.timezone)


def sees(person, role, athlete, purpose):
    try:
        return athlete.pk in {one.pk for one in athletes_visible_to(viewer_for(person, role), purpose)}
    except NotFound:
        return False


def latest(athlete, giver, purpose):
    events = PermissionEvent.objects.filter(athlete=athlete, giver=giver, purpose=purpose)
    return events.order_by("at", "id").last()


@dataclass(frozen=True)
class Closing:
    """`before` comes into the backup, `change` after it; `is_open` is true before the change and never after it."""

    before: object
    change: object
    is_open: object


def nothing(scene):
    return None


def both_say_yes_to_health(scene):
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach, scene.second_coach))


def all_say_yes_to_share(scene):
    answer(scene.athlete, scene.athlete, "share", names=(scene.other_coach,))


def new_guardian_says_no(scene):
    answer(scene.athlete, make_guardian(scene.athlete, "Gundula"), "share", "no")


def object_to_feedback(scene, *, is_followed):
    request = open_request(
        viewer=viewer_for(scene.athlete, "athlete"), athlete_id=scene.athlete.pk, asked=Asked("objection", "feedback")
    )
    if is_followed:
        end_request(viewer=viewer_for(scene.admin, "admin"), request_id=request.pk, followed=True, answer="Yes.")


def withhold(scene):
    Withholding.objects.create(
        club=scene.club, athlete=scene.athlete, guardian=scene.guardian, set_by=scene.welfare, first_day=today(scene)
    )


def by_save(row, **values):
    for name, value in values.items():
        setattr(row, name, value)
    row.save(update_fields=list(values))


def reword(scene):
    write_wording(
        viewer=viewer_for(scene.admin, "admin"), purpose="health", child_level=False, question="Another question?",
        explanation="Another meaning.", is_material=True,
    )  # fmt: skip


def change_password(person):
    account = Account.objects.get(person=person)
    account.set_password("another four quiet words")
    account.save(update_fields=["password"])


def set_up_factors(scene):
    account = Account.objects.get(person=scene.coach)
    secret = new_app_secret()
    add_app(viewer=own_viewer(scene.coach), account=account, secret=secret, code=code_for(secret))
    Authenticator.objects.create(user=account, type="webauthn", data={"name": "An old phone", "credential": {}})


def lose(scene, kind):
    account = Account.objects.get(person=scene.coach)
    row = next(one for one in factors_of(account) if one.type == kind)
    remove_factor(viewer=own_viewer(scene.coach), account=account, factor_id=row.pk)


def has(kind):
    return lambda scene: Authenticator.objects.filter(user__person=scene.coach, type=kind).exists()


def sign_in_by_password(scene):
    browser = Client()
    given = {"username": Account.objects.get(person=scene.coach).username, "password": PASSWORD}
    assert browser.post("/sign-in", given).status_code == 302
    return browser


def opens_by_password_alone(scene):
    """Whether the coach's password, without a second factor, opens anything but the page where one is set up."""
    answered = sign_in_by_password(scene).get("/coach/athletes")
    return answered.status_code == 200


def make_codes(scene):
    scene.codes = new_recovery_codes(viewer=own_viewer(scene.coach), account=Account.objects.get(person=scene.coach))


def set_up_codes(scene):
    set_up_factors(scene)
    make_codes(scene)
    scene.first_code = scene.codes[3]


def first_code_opens(scene):
    row = Authenticator.objects.filter(user__person=scene.coach, type="recovery_codes").first()
    return row is not None and scene.first_code in row.wrap().get_unused_codes()


def born(scene, age):
    return date(today(scene).year - age, 1, 1)


def keep_for(scene, days, reason=""):
    set_period(
        viewer=viewer_for(scene.admin, "admin"), kind="feedback", days=days, reason=reason, reason_shown=bool(reason)
    )


def feedback_days(scene):
    return ClubPeriod.objects.filter(club=scene.club, kind="feedback").values_list("days", flat=True).first() or 730


def hold(scene):
    day = today(scene)
    Hold.objects.create(
        club=scene.club, athlete=scene.athlete, reference="A1", set_on=day, set_by=scene.admin, review_by=day
    )


def is_member(scene):
    return "athlete" in roles_held(scene.athlete, today(scene))


def is_parental(purpose):
    return lambda scene: sees(scene.guardian, "guardian", scene.athlete, purpose)


def is_coached(purpose):
    return lambda scene: sees(scene.coach, "coach", scene.athlete, purpose)


CLOSINGS = {
    "a first no about a guardian's view": Closing(
        nothing,
        lambda scene: answer(scene.athlete, scene.athlete, "feedback", "no", about_guardian=scene.guardian),
        is_parental("feedback"),
    ),
    "a yes about a guardian's view is stopped": Closing(
        lambda scene: answer(scene.athlete, scene.athlete, "health", "yes", about_guardian=scene.guardian),
        lambda scene: answer(scene.athlete, scene.athlete, "health", "withdrawn", about_guardian=scene.guardian),
        is_parental("health"),
    ),
    "a guardian's first no": Closing(
        all_say_yes_to_share,
        lambda scene: answer(scene.athlete, scene.guardian, "share", "no"),
        lambda scene: sees(scene.other_coach, "coach", scene.athlete, "share"),
    ),
    "the no of a guardian who came since": Closing(
        all_say_yes_to_share,
        new_guardian_says_no,
        lambda scene: sees(scene.other_coach, "coach", scene.athlete, "share"),
    ),
    "a yes that names fewer people": Closing(
        both_say_yes_to_health,
        lambda scene: answer(scene.athlete, scene.guardian, names=(scene.second_coach,)),
        is_coached("health"),
    ),
    "a question worded anew": Closing(both_say_yes_to_health, reword, is_coached("health")),
    "an objection that is weighed": Closing(
        nothing, lambda scene: object_to_feedback(scene, is_followed=False), is_coached("feedback")
    ),
    "an objection that was followed": Closing(
        nothing,
        lambda scene: object_to_feedback(scene, is_followed=True),
        lambda scene: not Objection.objects.filter(athlete=scene.athlete).exists(),
    ),
    "a restriction that goes on longer": Closing(
        lambda scene: Restriction.objects.create(
            club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=date(2026, 1, 1),
            last_day=date(2026, 1, 2),
        ),
        lambda scene: Restriction.objects.update(last_day=None),
        is_coached("feedback"),
    ),
    "a withheld view": Closing(nothing, withhold, is_parental("plan")),
    "a role that ended": Closing(
        nothing,
        lambda scene: scene.admin.staff_roles.update(last_day=today(scene) - YESTERDAY),
        lambda scene: "admin" in roles_held(scene.admin, today(scene)),
    ),
    "a role that was taken away": Closing(
        nothing,
        lambda scene: StaffRole.objects.filter(person=scene.admin).delete(),
        lambda scene: "admin" in roles_held(scene.admin, today(scene)),
    ),
    "an assignment that ended": Closing(
        nothing,
        lambda scene: by_save(CoachAssignment.objects.get(coach=scene.coach), last_day=today(scene) - YESTERDAY),
        is_coached("record"),
    ),
    "a clearance that ends sooner": Closing(
        nothing,
        lambda scene: Clearance.objects.filter(coach=scene.coach).update(expires_on=today(scene) - YESTERDAY),
        is_coached("record"),
    ),
    "a membership that ended": Closing(
        nothing,
        lambda scene: Membership.objects.filter(athlete=scene.athlete).update(last_day=today(scene) - YESTERDAY),
        is_member,
    ),
    "a group that was left": Closing(
        nothing,
        lambda scene: GroupMembership.objects.filter(athlete=scene.athlete).update(last_day=today(scene) - YESTERDAY),
        is_coached("record"),
    ),
    "a guardian's authority that ended": Closing(
        nothing,
        lambda scene: Guardianship.objects.filter(athlete=scene.athlete).update(last_day=today(scene) - YESTERDAY),
        is_parental("plan"),
    ),
    "a guardian's authority that a court limited": Closing(
        nothing,
        lambda scene: by_save(Guardianship.objects.get(athlete=scene.athlete), authority="limited"),
        is_parental("plan"),
    ),
    "a no that counts since the papers were seen": Closing(
        lambda scene: (
            all_say_yes_to_share(scene),
            Guardianship.objects.filter(athlete=scene.athlete).update(authority="unverified"),
            answer(scene.athlete, scene.guardian, "share", "no"),
        ),
        lambda scene: Guardianship.objects.filter(athlete=scene.athlete).update(authority="full"),
        lambda scene: sees(scene.other_coach, "coach", scene.athlete, "share"),
    ),
    "an account that was shut": Closing(
        nothing,
        lambda scene: Account.objects.filter(person=scene.coach).update(is_active=False),
        lambda scene: Account.objects.get(person=scene.coach).is_active,
    ),
    "a password that was changed": Closing(
        nothing,
        lambda scene: change_password(scene.coach),
        lambda scene: Account.objects.get(person=scene.coach).check_password(PASSWORD),
    ),
    "an authenticator app that was removed": Closing(set_up_factors, lambda scene: lose(scene, "totp"), has("totp")),
    "a passkey that was removed": Closing(set_up_factors, lambda scene: lose(scene, "webauthn"), has("webauthn")),
    "a recovery code that was used": Closing(
        set_up_codes,
        lambda scene: check_code(
            account=Account.objects.get(person=scene.coach), typed=scene.first_code, place="here"
        ),
        first_code_opens,
    ),
    "recovery codes that were made anew": Closing(set_up_codes, make_codes, first_code_opens),
    "a birth date by which somebody is a minor": Closing(
        lambda scene: answer(scene.adult_athlete, scene.adult_athlete, names=(scene.coach,)),
        lambda scene: Person.objects.filter(pk=scene.adult_athlete.pk).update(birth_date=born(scene, 15)),
        lambda scene: sees(scene.coach, "coach", scene.adult_athlete, "health"),
    ),
    "a birth date by which somebody is of age": Closing(
        lambda scene: make_guardian(scene.child, "Gus"),
        lambda scene: by_save(scene.child, birth_date=born(scene, 18)),
        lambda scene: sees(scene.guardian, "guardian", scene.child, "plan"),
    ),
    "a period that was shortened": Closing(
        lambda scene: keep_for(scene, 400, "Asked by the insurer."),
        lambda scene: (keep_for(scene, None), keep_for(scene, 300)),
        lambda scene: feedback_days(scene) > 300,
    ),
    "a period that is the usual one again": Closing(
        lambda scene: keep_for(scene, 800, "Asked by the insurer."),
        lambda scene: keep_for(scene, None),
        lambda scene: feedback_days(scene) > 730,
    ),
    "a digital age that was raised": Closing(
        lambda scene: (
            DigitalAge.objects.filter(country="IE").update(age=13),
            answer(scene.athlete, scene.athlete, "share", names=(scene.other_coach,)),
        ),
        lambda scene: DigitalAge.objects.filter(country="IE", club=scene.club).update(age=17),
        lambda scene: sees(scene.other_coach, "coach", scene.athlete, "share"),
    ),
    "a higher digital age from a day on": Closing(
        all_say_yes_to_share,
        lambda scene: DigitalAge.objects.create(
            club=scene.club, country="IE", age=18, valid_from=today(scene) - YESTERDAY, source="An invented act."
        ),
        lambda scene: sees(scene.other_coach, "coach", scene.athlete, "share"),
    ),
    "a hold": Closing(nothing, hold, lambda scene: not Hold.objects.filter(athlete=scene.athlete).exists()),
    "the rule of the United States": Closing(
        nothing,
        lambda scene: confirm_rules(viewer=viewer_for(scene.admin, "admin"), book="united_states", by_name="Ada"),
        lambda scene: not Club.objects.get(pk=scene.club.pk).us_rule,
    ),
    "an emergency access that was closed": Closing(
        lambda scene: open_in_emergency(
            viewer=viewer_for(scene.admin, "admin"), athlete_id=scene.athlete.pk, reason="Fell", cannot_answer=True
        ),
        lambda scene: close_emergency(viewer=viewer_for(scene.admin, "admin"), athlete_id=scene.athlete.pk),
        lambda scene: EmergencyAccess.objects.get().ended_at is None,
    ),
    "a coach who was taken off a session": Closing(
        nothing,
        lambda scene: scene.training_session.session_coaches.update(taken_off_at=scene.training_session.ends_at),
        lambda scene: SessionCoach.objects.get(coach=scene.coach).taken_off_at is None,
    ),
}  # fmt: skip


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", CLOSINGS)
def test_what_was_closed_since_the_backup_stays_closed(scene, folders, name):
    closing = CLOSINGS[name]
    closing.before(scene)
    assert closing.is_open(scene)
    call_command("backup", str(folders / "backups"))
    with transaction.atomic():
        closing.change(scene)
    assert not closing.is_open(scene)
    known = set(LedgerLine.objects.values_list("pk", flat=True))
    call_command("restore", str(folders / "backups"), "--replace")
    assert not closing.is_open(scene)
    with transaction.atomic():  # safe to run twice
        repeat_ledger(since_backup=known)
    assert not closing.is_open(scene)
    assert chain_fault(club_id=scene.club.pk) is None


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("is_blanked", [False, True])
def test_what_came_by_a_file_that_was_taken_back_stays_away(scene, folders, signed_in, is_blanked):
    """Also where somebody was blanked since, and with them every file of the club."""
    rights = (Membership, GroupMembership, Guardianship)
    before = [set(model.objects.values_list("pk", flat=True)) for model in rights]
    page = apply(signed_in(scene.admin), HEAD + ZOE + ODA, **NEW)
    made = [model.objects.count() - len(held) for model, held in zip(rights, before, strict=True)]
    assert made == [2, 3, 2]
    people = Person.objects.count()
    call_command("backup", str(folders / "backups"))
    undo_file(viewer=viewer_for(scene.admin, "admin"), file_id=UUID(page.rpartition("/")[2]))
    if is_blanked:
        erase_kind(viewer=viewer_for(scene.admin, "admin"), athlete=scene.adult_athlete, kind=KeptKind.RECORD)
    after = [set(model.objects.values_list("pk", flat=True)) for model in rights]
    call_command("restore", str(folders / "backups"), "--replace")
    assert [set(model.objects.values_list("pk", flat=True)) for model in rights] == after
    assert RosterFile.objects.exists() is not is_blanked
    assert Person.objects.count() == people


@pytest.mark.django_db(transaction=True)
def test_what_the_backup_knows_is_left_as_it_is(scene, folders):
    """Closed, then opened again by a person, then backed up: the old closing lies in the ledger and closes nothing."""
    roles = StaffRole.objects.filter(person=scene.admin)
    roles.update(last_day=today(scene) - YESTERDAY)
    answer(scene.athlete, scene.athlete, "share", "no")
    roles.update(last_day=None)
    answer(scene.athlete, scene.athlete, "share", names=(scene.other_coach,))
    call_command("backup", str(folders / "backups"))
    call_command("restore", str(folders / "backups"), "--replace")
    assert "admin" in roles_held(scene.admin, today(scene))
    assert latest(scene.athlete, scene.athlete, "share").answer == "yes"


@pytest.mark.django_db(transaction=True)
def test_no_sign_in_outlives_a_restore_and_who_kept_the_password_signs_in_again(scene, folders, signed_in):
    before = signed_in(scene.coach)
    _form, code = make_form(viewer=viewer_for(scene.admin, "admin"), person_id=scene.guardian.pk)
    call_command("backup", str(folders / "backups"))
    since = signed_in(scene.coach)
    change_password(scene.admin)
    call_command("restore", str(folders / "backups"), "--replace")
    assert [client.get("/today").status_code for client in (before, since)] == [302, 302]
    assert Account.objects.get(person=scene.coach).check_password(PASSWORD)
    with pytest.raises(Refused):
        form_by_code(typed=code.shown, place="here")


@pytest.mark.django_db(transaction=True)
def test_whose_second_factor_a_restore_lost_is_asked_for_another_before_anything_opens(scene, folders, capsys):
    """The club has named no day from which roles need one: of them alone it is not put off."""
    assert opens_by_password_alone(scene)
    call_command("backup", str(folders / "backups"))
    set_up_factors(scene)
    call_command("restore", str(folders / "backups"), "--replace")
    assert "Accounts whose second factor is not in the backup: 1." in capsys.readouterr().out
    browser = sign_in_by_password(scene)
    assert browser.get("/coach/athletes")["Location"] == "/me/second-factor"
    assert "a backup that did not hold your second factor" in browser.get("/me/second-factor").content.decode()
    assert browser.get("/api/v1/me").json()["code"] == "SECOND_FACTOR_FIRST"
    set_up_factors(scene)
    call_command("backup", str(folders / "later"))
    call_command("restore", str(folders / "later"), "--replace")
    assert "second factor" not in capsys.readouterr().out
    assert not opens_by_password_alone(scene), "the new factor is asked for"


@pytest.mark.django_db(transaction=True)
def test_a_factor_that_was_taken_away_is_not_lost(scene, folders, capsys):
    set_up_factors(scene)
    lose(scene, "totp"), lose(scene, "webauthn")
    call_command("backup", str(folders / "backups"))
    call_command("restore", str(folders / "backups"), "--replace")
    assert "second factor" not in capsys.readouterr().out
    assert opens_by_password_alone(scene)


@pytest.mark.django_db(transaction=True)
def test_rules_that_were_loosened_since_are_not_loosened_by_the_ledger(scene, folders):
    """A longer period and a lower age are set anew by a person; who was blanked since gets no birth date back."""
    keep_for(scene, 100)
    DigitalAge.objects.filter(club=scene.club, country="IE").update(age=16)
    call_command("backup", str(folders / "backups"))
    keep_for(scene, None)
    DigitalAge.objects.filter(club=scene.club, country="IE").update(age=13)
    Person.objects.filter(pk=scene.child.pk).update(birth_date=born(scene, 12))
    keeper_named("records").take_away(scene.club.pk, [scene.child.pk])
    with transaction.atomic():
        note_removed(club_id=scene.club.pk, what="records", why="left", by_person={None: [scene.child.pk]})
    call_command("restore", str(folders / "backups"), "--replace")
    assert feedback_days(scene) == 100
    assert DigitalAge.objects.get(club=scene.club, country="IE").age == 16
    assert Person.objects.get(pk=scene.child.pk).birth_date is None


@pytest.mark.django_db(transaction=True)
def test_a_no_is_said_again_as_it_was(scene, folders):
    call_command("backup", str(folders / "backups"))
    said = answer(scene.athlete, scene.athlete, "copy", "no", about_guardian=scene.guardian)
    call_command("restore", str(folders / "backups"), "--replace")
    again = PermissionEvent.objects.get(pk=said.pk)
    assert (again.answer, again.at, again.about_guardian, again.wording) == (
        "no", said.at, scene.guardian, said.wording,
    )  # fmt: skip


@pytest.mark.django_db(transaction=True)
def test_what_was_written_and_erased_since_does_not_come_back_from_a_phone(scene, folders):
    call_command("backup", str(folders / "backups"))
    entry = see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    with transaction.atomic():
        erase_kind(viewer=viewer_for(scene.admin, "admin"), athlete=scene.athlete, kind="feedback")
    call_command("restore", str(folders / "backups"), "--replace")
    assert ErasedEntry.objects.filter(entry_id=entry.pk, training_session=scene.training_session).exists()


@pytest.mark.django_db(transaction=True)
def test_a_destroyed_key_that_was_put_back_goes_again(scene, folders):
    both_say_yes_to_health(scene)
    make_pain(scene.training_session, scene.athlete, scene.coach)
    call_command("backup", str(folders / "backups"))
    file = key_file(HealthKey.objects.get(athlete=scene.athlete).pk)
    kept = file.read_bytes()
    with transaction.atomic():
        erase_kind(viewer=viewer_for(scene.admin, "admin"), athlete=scene.athlete, kind="health")
    file.write_bytes(kept)
    call_command("restore", str(folders / "backups"), "--replace")
    assert not file.exists() and not HealthKey.objects.filter(athlete=scene.athlete).exists()


# --- any of them, in any order ----------------------------------------------------------------------------------------
def changes(draw, club, athletes, people):
    """A random day of answers, limits and ends in a random club."""
    coaches = [one for one in people if one.given_name.startswith("Coach")]
    links = list(Guardianship.objects.filter(club=club).order_by("guardian__given_name", "athlete__given_name"))
    day = today_in(club.timezone)
    for _ in range(draw.randint(3, 8)):
        athlete = draw.choice(athletes)
        mine = [link for link in links if link.athlete_id == athlete.pk]
        giver = draw.choice([athlete, *(link.guardian for link in mine)])
        match draw.choice(
            ("answer", "answer", "view", "restrict", "object", "withhold", "authority", "born", "end", "leave")
        ):
            case "answer":
                word = draw.choice(("yes", "no", "withdrawn"))
                names = tuple(draw.sample(coaches, 1)) if word == "yes" else ()
                answer(athlete, giver, draw.choice(("health", "share", "feed", "record")), word, names=names)
            case "view" if mine:
                about = draw.choice(mine).guardian
                answer(athlete, athlete, draw.choice(VIEW_PURPOSES), draw.choice(("yes", "no")), about_guardian=about)
            case "restrict":
                Restriction.objects.create(club=club, athlete=athlete, purpose="feedback", first_day=day)
            case "object":
                Objection.objects.create(club=club, athlete=athlete, purpose="feedback", first_day=day)
            case "withhold" if mine:
                guardian = draw.choice(mine).guardian
                Withholding.objects.create(
                    club=club, athlete=athlete, guardian=guardian, set_by=coaches[0], first_day=day
                )
            case "authority" if mine:
                by_save(draw.choice(mine), authority=draw.choice(("full", "care", "limited", "unverified")))
            case "born":
                day_of_birth = date(day.year - draw.choice((9, 15, 17, 20)), 1, 1)
                Person.objects.filter(pk=athlete.pk).update(birth_date=day_of_birth)
            case "end":
                CoachAssignment.objects.filter(coach=draw.choice(coaches)).update(last_day=day - YESTERDAY)
            case "leave":
                Membership.objects.filter(athlete=athlete).update(last_day=day - YESTERDAY)


def everything_seen(people):
    """Who sees whom, in which role, for what, but one's own."""
    return {
        (viewer.person_id, viewer.role, athlete.pk, purpose)
        for viewer in viewers(people)
        if viewer.role != "athlete"
        for purpose in (VIEW_PURPOSES if viewer.role == "guardian" else PURPOSES)
        for athlete in athletes_visible_to(viewer, purpose)
    }


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("seed", range(30 if LONG else 3))
def test_nobody_sees_more_after_a_restore_than_before_the_loss(folders, seed):
    club, athletes, people = make_random_club(seed)
    call_command("backup", str(folders / "backups"))
    with transaction.atomic():
        changes(Random(seed), club, athletes, people)
    seen = everything_seen(people)
    call_command("restore", str(folders / "backups"), "--replace")
    assert everything_seen(people) - seen == set()
