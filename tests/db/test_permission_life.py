"""A club's life, step by step: after each, the rows that a viewer sees are those that the decision allows.

Birthdays, answers, stops, undoing, limits, withholdings, moves, holds, leaving, returning, nights, in any order; and
backups, after whose restore nobody sees more than before the loss.
"""

import tempfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.db import connection, transaction
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from athletes.access import athletes_visible_to
from athletes.models import (
    Clearance,
    CoachAssignment,
    GroupMembership,
    Guardianship,
    Hold,
    Membership,
    Objection,
    PermissionEvent,
    Person,
    Restriction,
    Withholding,
    Wording,
)
from athletes.selectors.access_log import chain_fault
from athletes.services.keep import begin_night, keep
from athletes.services.ledger import write_missing
from athletes.services.record_permission import answer_permission, take_back_answer, withdraw_permission
from athletes.services.restore import restore
from athletes.viewer import viewer_for
from teamtrack.common.backup import make_backup
from teamtrack.common.clock import now_in, today_in, utc_now
from teamtrack.common.errors import NotFound, Refused
from tests.db.test_permission_equality import allowed, viewers
from tests.random_club import PURPOSES, VIEW_PURPOSES, make_random_club
from tests.sizes import LONG

OPTIONAL = ("health", "share", "feed")
STEPS, LIVES = (30, 12) if LONG else (8, 1)
ANY = st.integers(0, 10**6)


class Life(RuleBasedStateMachine):
    """One club; everything it does is undone when its life ends."""

    @initialize(seed=st.integers(0, 10**6))
    def begin(self, seed: int) -> None:
        self.undone = transaction.atomic()
        self.undone.__enter__()
        django_settings.CLUB_DAY_SHIFT = 0
        self.club, self.athletes, self.people = make_random_club(seed)
        self.guardians = [one for one in self.people if one.given_name.startswith("Guardian")]
        self.coaches = [one for one in self.people if one.given_name.startswith("Coach")]
        if connection.vendor == "sqlite":  # PostgreSQL's backup has to begin its own transaction
            self.a_backup_is_made()

    def teardown(self) -> None:
        django_settings.CLUB_DAY_SHIFT = 0
        if hasattr(self, "undone"):
            try:
                assert chain_fault(club_id=self.club.pk) is None
            finally:
                transaction.set_rollback(True)
                self.undone.__exit__(None, None, None)

    @property
    def today(self) -> date:
        return today_in(self.club.timezone)

    def athlete(self, number: int) -> Person:
        return self.athletes[number % len(self.athletes)]

    def links(self) -> list[Guardianship]:
        return list(Guardianship.objects.filter(club=self.club).order_by("pk"))

    # --- days ---------------------------------------------------------------------------------------------------------
    @rule(days=st.sampled_from([1, 30, 91, 366]))
    def days_pass(self, days: int) -> None:
        django_settings.CLUB_DAY_SHIFT += days

    @rule(number=ANY, early=st.booleans())
    def a_birthday_comes(self, number: int, early: bool) -> None:
        born, today = self.athlete(number).birth_date, self.today
        if born is not None:
            ahead = (date(today.year + 1, born.month, min(born.day, 28)) - today).days % 365
            django_settings.CLUB_DAY_SHIFT += max(0, ahead - early)

    @rule()
    def a_night_passes(self) -> None:
        run = begin_night(club=self.club, day=self.today)
        if run is not None:
            keep(run_id=run.pk)
            gone = [one for one in self.athletes if not Person.objects.filter(pk=one.pk).exists()]
            assert gone == []
            for person in self.people:
                person.refresh_from_db()

    # --- answers ------------------------------------------------------------------------------------------------------
    def speaker(self, number: int, as_athlete: bool) -> tuple[Person, str]:
        athlete = self.athlete(number)
        links = list(athlete.guarded_by.order_by("pk"))
        if as_athlete or not links:
            return athlete, "athlete"
        return links[number % len(links)].guardian, "guardian"

    @rule(number=ANY, as_athlete=st.booleans(), purpose=st.sampled_from((*OPTIONAL, "record")), yes=st.booleans())
    def somebody_answers(self, number: int, as_athlete: bool, purpose: str, yes: bool) -> None:
        giver, role = self.speaker(number, as_athlete)
        names = [self.coaches[number % 3].pk] if yes and purpose == "share" else []
        try:
            answer_permission(
                viewer=viewer_for(giver, role),
                athlete_id=self.athlete(number).pk,
                purpose=purpose,
                answer="yes" if yes else "no",
                recipient_ids=names,
            )
        except (NotFound, Refused):
            return

    @rule(number=ANY, as_athlete=st.booleans(), purpose=st.sampled_from(OPTIONAL))
    def somebody_stops(self, number: int, as_athlete: bool, purpose: str) -> None:
        giver, role = self.speaker(number, as_athlete)
        try:
            withdraw_permission(viewer=viewer_for(giver, role), athlete_id=self.athlete(number).pk, purpose=purpose)
        except (NotFound, Refused):
            return
        self.nobody_of_the_club_reads(self.athlete(number), purpose)

    @rule(number=ANY, as_athlete=st.booleans())
    def somebody_undoes(self, number: int, as_athlete: bool) -> None:
        giver, role = self.speaker(number, as_athlete)
        athlete = self.athlete(number)
        own = PermissionEvent.objects.filter(athlete=athlete, giver=giver, about_guardian=None).order_by("at", "id")
        try:
            take_back_answer(
                viewer=viewer_for(giver, role), athlete_id=athlete.pk, event_id=own.last().pk if own else athlete.pk
            )
        except (NotFound, Refused):
            return

    def nobody_of_the_club_reads(self, athlete: Person, purpose: str) -> None:
        for viewer in viewers(self.people):
            if viewer.role not in ("athlete", "guardian"):
                assert athlete.pk not in {one.pk for one in athletes_visible_to(viewer, purpose)}

    # --- people -------------------------------------------------------------------------------------------------------
    @rule(number=ANY, word=st.sampled_from(["full", "care", "limited", "unverified"]))
    def a_guardian_is_given_other_authority(self, number: int, word: str) -> None:
        if links := self.links():
            Guardianship.objects.filter(pk=links[number % len(links)].pk).update(authority=word)

    @rule(number=ANY, lift=st.booleans())
    def a_view_is_withheld_or_given_back(self, number: int, lift: bool) -> None:
        links = self.links()
        if not links:
            return
        link = links[number % len(links)]
        rows = Withholding.objects.filter(athlete=link.athlete, guardian=link.guardian)
        if lift or rows.exists():
            rows.delete()
        else:
            Withholding.objects.create(
                club=self.club,
                athlete=link.athlete,
                guardian=link.guardian,
                set_by=self.coaches[0],
                first_day=self.today,
            )

    @rule(number=ANY, ends=st.booleans())
    def a_coach_is_assigned_or_taken_off(self, number: int, ends: bool) -> None:
        coach = self.coaches[number % 3]
        if ends:
            CoachAssignment.objects.filter(coach=coach).update(last_day=self.today - timedelta(days=1))
        else:
            group = self.athlete(number).group_memberships.first().group
            CoachAssignment.objects.create(club=self.club, coach=coach, group=group, first_day=self.today)

    @rule(number=ANY)
    def a_check_runs_out(self, number: int) -> None:
        Clearance.objects.filter(coach=self.coaches[number % 3]).update(expires_on=self.today - timedelta(days=1))

    @rule(number=ANY)
    def an_athlete_moves_to_another_group(self, number: int) -> None:
        athlete = self.athlete(number)
        GroupMembership.objects.filter(athlete=athlete).update(last_day=self.today - timedelta(days=1))
        group = CoachAssignment.objects.filter(club=self.club).order_by("pk").values_list("group", flat=True).first()
        if group:
            GroupMembership.objects.create(club=self.club, athlete=athlete, group_id=group, first_day=self.today)

    @rule(number=ANY, returns=st.booleans())
    def an_athlete_leaves_or_returns(self, number: int, returns: bool) -> None:
        rows = Membership.objects.filter(athlete=self.athlete(number))
        rows.update(last_day=None if returns else self.today - timedelta(days=1))

    @rule(number=ANY, purpose=st.sampled_from(("feedback", *OPTIONAL)), lift=st.booleans())
    def a_purpose_is_restricted_or_set_free(self, number: int, purpose: str, lift: bool) -> None:
        rows = Restriction.objects.filter(athlete=self.athlete(number), purpose=purpose)
        if lift:
            rows.delete()
        elif not rows.exists():
            Restriction.objects.create(
                club=self.club, athlete=self.athlete(number), purpose=purpose, first_day=self.today
            )

    @rule(number=ANY)
    def an_objection_is_upheld(self, number: int) -> None:
        Objection.objects.get_or_create(
            club=self.club, athlete=self.athlete(number), purpose="feedback", defaults={"first_day": self.today}
        )

    @rule(number=ANY, lift=st.booleans())
    def a_hold_is_set_or_lifted(self, number: int, lift: bool) -> None:
        rows = Hold.objects.filter(athlete=self.athlete(number), lifted_on=None)
        if lift:
            rows.update(lifted_on=self.today)
        elif not rows.exists():
            Hold.objects.create(
                club=self.club,
                athlete=self.athlete(number),
                reference="file",
                set_on=self.today,
                set_by=self.coaches[0],
                review_by=self.today + timedelta(days=90),
            )

    @rule(change=st.sampled_from(["minor", "material"]), purpose=st.sampled_from(OPTIONAL))
    def a_question_is_worded_anew(self, change: str, purpose: str) -> None:
        rows = Wording.objects.filter(club=self.club, purpose=purpose, child_level=False).order_by("version")
        old = rows.last()
        Wording.objects.create(
            club=self.club,
            purpose=purpose,
            version=old.version + 1,
            change=change,
            question=old.question,
            explanation=old.explanation,
            in_force_from=now_in(self.club.timezone),
        )

    # --- backups ------------------------------------------------------------------------------------------------------
    @precondition(lambda self: hasattr(self, "backup"))
    @rule()
    def a_backup_is_made(self) -> None:
        write_missing()
        self.backup = make_backup(Path(tempfile.mkdtemp(dir=django_settings.ERASURE_LEDGER_FILE.parent)), now=utc_now())

    @precondition(lambda self: hasattr(self, "backup"))
    @rule()
    def it_is_restored(self) -> None:
        before = self.everything_seen()
        restore(self.backup, replace=True)
        assert self.everything_seen() - before == set()

    def everything_seen(self) -> set[tuple[object, ...]]:
        """Who sees whom, in which role, for what; but athletes themselves."""
        return {
            (viewer.person_id, viewer.role, athlete.pk, purpose)
            for viewer in viewers(self.people)
            if viewer.role != "athlete"
            for purpose in (VIEW_PURPOSES if viewer.role == "guardian" else PURPOSES)
            for athlete in athletes_visible_to(viewer, purpose)
        }

    # --- always -------------------------------------------------------------------------------------------------------
    @invariant()
    def what_is_seen_is_what_is_allowed(self) -> None:
        if not hasattr(self, "undone"):
            return
        athletes = list(Person.objects.filter(pk__in=[one.pk for one in self.athletes]))
        for viewer in viewers(self.people):
            for purpose in VIEW_PURPOSES if viewer.role == "guardian" else PURPOSES:
                seen = {one.pk for one in athletes_visible_to(viewer, purpose)}
                expected = {one.pk for one in athletes if allowed(viewer, one, purpose)}
                assert seen == expected, (viewer.role, purpose)


@pytest.fixture
def folders(settings, tmp_path):
    settings.HEALTH_KEYS_DIR = tmp_path / "keys"
    settings.ERASURE_LEDGER_FILE = tmp_path / "ledger.jsonl"
    settings.LOG_HEADS_FILE = tmp_path / "heads.jsonl"


@pytest.mark.django_db
@pytest.mark.usefixtures("folders")
def test_what_is_seen_is_what_is_allowed_through_a_clubs_life() -> None:
    run_state_machine_as_test(
        Life, settings=settings(max_examples=LIVES, stateful_step_count=STEPS, deadline=None, print_blob=True)
    )
