"""Reads about sign-ins: who still has none, whose was asked for anew, and one's own."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.contrib.sessions.models import Session
from django.db.models import Exists, OuterRef, Q, QuerySet

from athletes.access import Answers, athletes_visible_to, get_athlete_asked_about
from athletes.core import ages
from athletes.models import Account, Guardianship, Person, RecoveryAsk, SignIn, SignInSheet, StaffRole
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound

ASK_GOOD_FOR = timedelta(days=1)
MAY_ASK = (Role.HEAD_COACH, Role.COACH, Role.ADMIN, Role.WELFARE)
MAY_GIVE = (Role.ADMIN, Role.WELFARE)


@dataclass(frozen=True)
class Invited:
    """Somebody who may sign in and cannot yet; `sheet` is the one that waits."""

    person: Person
    sheet: SignInSheet | None


def own_sign_ins(person: Person) -> list[SignIn]:
    """Where somebody is signed in now, the newest first."""
    alive = Session.objects.filter(expire_date__gt=utc_now()).values("session_key")
    return list(SignIn.objects.filter(person=person, session_key__in=alive).order_by("-seen_at", "pk"))


def open_sign_ins(viewer: Viewer, person: Person) -> int:
    """In how many browsers somebody of the club is signed in, for an admin: the number alone."""
    viewer.must_be(Role.ADMIN)
    return len(own_sign_ins(person))


def waiting_sheets(person: Person) -> list[SignInSheet]:
    """Sheets for somebody that still open something, with who made them."""
    rows = SignInSheet.objects.filter(person=person, used_at=None, good_until__gt=utc_now())
    return list(rows.select_related("made_by", "asked_by").order_by("-made_at"))


def without_sign_in(viewer: Viewer) -> list[Invited]:
    """Everybody whom an admin may give a first sign-in, by name: athletes, guardians and staff who have none."""
    if viewer.role != Role.ADMIN:
        raise NotFound()
    people = list(_may_sign_in(viewer).filter(account=None).order_by("family_name", "given_name", "pk"))
    open_ones = SignInSheet.objects.filter(person__in=people, used_at=None, good_until__gt=utc_now())
    sheets = {sheet.person_id: sheet for sheet in open_ones.order_by("made_at")}
    return [Invited(person, sheets.get(person.pk)) for person in people]


def to_invite(viewer: Viewer, person_id: UUID) -> Person:
    """One of them; absent, of another club and signed in already are alike."""
    if viewer.role != Role.ADMIN:
        raise NotFound()
    person = _may_sign_in(viewer).filter(account=None, pk=person_id).first()
    if person is None:
        raise NotFound()
    return person


def _may_sign_in(viewer: Viewer) -> QuerySet[Person]:
    athletes = [athlete.pk for athlete in athletes_visible_to(viewer, "record")]
    held = in_force(viewer.today)
    guards = Exists(Guardianship.objects.filter(held, guardian=OuterRef("pk"), athlete__in=athletes))
    works = Exists(StaffRole.objects.filter(held, person=OuterRef("pk")))
    return Person.objects.filter(Q(pk__in=athletes) | Q(guards) | Q(works), club=viewer.club_id, left_on=None)


def people_to_recover(viewer: Viewer) -> list[Person]:
    """Whose new sign-in this person of the club may ask for: a coach's own athletes, else everybody's but one's own."""
    if not may_ask(viewer):
        raise NotFound()
    rows = Person.objects.filter(club=viewer.club_id, account__is_active=True).exclude(pk=viewer.person_id)
    if viewer.role == Role.COACH:
        rows = rows.filter(pk__in=[athlete.pk for athlete in athletes_visible_to(viewer, "record")])
    return list(rows.order_by("family_name", "given_name", "pk"))


def may_ask(viewer: Viewer) -> bool:
    """Grown-up staff alone: a helper under 18 asks for nobody's sign-in."""
    born = viewer.person.birth_date
    return viewer.role in MAY_ASK and not (born and ages.is_minor(ages.age_on(born, viewer.today)))


def open_asks(viewer: Viewer) -> Sequence[RecoveryAsk]:
    """What was asked within the last day and not yet given, for those who may give it or have asked."""
    if not may_ask(viewer):
        raise NotFound()
    rows = RecoveryAsk.objects.filter(
        club=viewer.club_id, ended_at=None, asked_at__gt=utc_now() - ASK_GOOD_FOR
    ).exclude(person=viewer.person_id)
    if viewer.role not in MAY_GIVE:
        rows = rows.filter(asked_by=viewer.person_id)
    return list(rows.select_related("person", "asked_by").order_by("asked_at"))


def child_to_help(viewer: Viewer, athlete_id: UUID) -> Person:
    """A child under 18 whom this guardian, who may decide and from whom nothing is withheld, gives a new sign-in."""
    if viewer.role != Role.GUARDIAN:
        raise NotFound()
    athlete, answers = get_athlete_asked_about(viewer, athlete_id)
    if not may_help(viewer, athlete_id, answers):
        raise NotFound()
    return athlete


def may_help(viewer: Viewer, athlete_id: UUID, answers: Answers) -> bool:
    """Whether the viewer is a guardian who decides for this child under 18, and nothing is withheld."""
    decides = answers.answer_to(athlete_id, "health", act="withdraw").may
    return viewer.role == Role.GUARDIAN and decides and answers.may(athlete_id, "plan")


def account_of(person: Person) -> Account | None:
    """The account of a person, where there is one."""
    return Account.objects.filter(person=person).first()
