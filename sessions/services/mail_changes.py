"""Sends by mail what notices tell of changed sessions, to those who have an address; a mail taken confirms nothing."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from athletes.access import answers_for
from athletes.core import ages
from athletes.core.permissions import decide
from athletes.core.permissions import facts as fact
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer, roles_held, viewer_for
from sessions.core.sending import is_quiet
from sessions.models import Notice, TrainingSession
from sessions.selectors.own_plan import CHANGES
from sessions.services.send_marked import send_marked
from sessions.services.tell_changes import is_urgent_now
from sessions.words import place_name
from teamtrack.common.clock import now_in
from teamtrack.common.row_security import rows_open


def mail_changes(*, target_id: UUID) -> int:
    """Send what is due of one session, or of one week's sessions: one mail a person; how many were taken.

    Each notice is marked before its mail leaves, so that a second run sends nothing twice; where the mail server
    refuses, the mark goes again and the person stays on the call list as not sent. Runs outside a transaction.
    """
    rows = TrainingSession.objects.filter(Q(pk=target_id) | Q(demand__week=target_id)).select_related("club", "venue")
    sessions = {row.pk: row for row in rows}
    if not sessions or not settings.SENDS_MAIL:
        return 0
    club = next(iter(sessions.values())).club
    people = {person.pk: person for person in Person.objects.filter(club=club).exclude(email="")}
    sent = 0
    for person_id, notices in _due(sessions, people, now_in(club.timezone)).items():
        sent += _send(people[person_id], notices, sessions)
    return sent


def _due(sessions: dict[UUID, TrainingSession], people: dict[UUID, Person], now: datetime) -> dict[UUID, list[Notice]]:
    """By person the notices neither seen, mailed nor told by voice whose hour has come."""
    waiting = Notice.objects.filter(
        training_session__in=sessions,
        kind__in=CHANGES,
        in_app_only=False,
        seen_at=None,
        mailed_at=None,
        reached_at=None,
    )
    with rows_open(people=people):
        to_guardians = Notice.objects.filter(training_session__in=sessions, kind__in=CHANGES, about__in=people)
        copied = set(to_guardians.values_list("training_session_id", "about_id"))
        rows = list(waiting.filter(to__in=people).select_related("about").order_by("made_at", "id"))
    found: dict[UUID, list[Notice]] = defaultdict(list)
    for row in rows:
        training_session = sessions[row.training_session_id]
        if _may_be_sent(people[row.to_id], row, training_session, copied, now):
            found[row.to_id].append(row)
    return found


def _may_be_sent(
    person: Person,
    notice: Notice,
    training_session: TrainingSession,
    copied: set[tuple[UUID | None, UUID | None]],
    now: datetime,
) -> bool:
    """The decision, asked anew when the mail leaves; what can wait does not leave at night."""
    urgent = is_urgent_now(training_session, notice.made_at)
    if training_session.ends_at < now or (not urgent and is_quiet(now, ZoneInfo(person.club.timezone))):
        return False
    roles = roles_held(person, now.date())
    if notice.about is not None:
        return Role.GUARDIAN in roles and _guardian_may_know(person, notice.about)
    if Role.ATHLETE not in roles:
        return bool(roles)
    viewer = viewer_for(person, Role.ATHLETE)
    return _may_write_to(viewer, urgent=urgent, is_copied=(training_session.pk, person.pk) in copied)


def _guardian_may_know(guardian: Person, child: Person) -> bool:
    viewer = viewer_for(guardian, Role.GUARDIAN)
    return answers_for(viewer=viewer, athletes=[child], purposes=["plan"]).may(child.pk, "plan")


def _may_write_to(viewer: Viewer, *, urgent: bool, is_copied: bool) -> bool:
    """Whether the club may write to this athlete now: never to a minor alone."""
    born = viewer.person.birth_date
    found = answers_for(viewer=viewer, athletes=[viewer.person], purposes=["message"]).found
    facts = replace(
        found.facts(viewer.person_id, "message", act="message"),
        by=fact.Role.HEAD_COACH,
        emergency=urgent,
        copy_to=fact.CopyTo.GUARDIAN if is_copied else fact.CopyTo.NONE,
        hour=viewer.now.hour,
    )
    is_minor = born is None or ages.is_minor(ages.age_on(born, viewer.today))
    return (is_copied or not is_minor) and decide(facts).may


def _send(person: Person, notices: Sequence[Notice], sessions: dict[UUID, TrainingSession]) -> bool:
    zone = ZoneInfo(person.club.timezone)
    lines = [_line(notice, sessions[notice.training_session_id], zone) for notice in notices]
    text = "\n".join([*lines, "", _('Sign in and tap "Seen", so that nobody has to ring you.')])
    return send_marked(person=person, notices=notices, subject=_("Training: something changed"), text=text)


def _line(notice: Notice, training_session: TrainingSession, zone: ZoneInfo) -> str:
    """Kind, time and venue; a guardian also reads the own child's first name, nothing else."""
    with timezone.override(zone):
        when = date_format(timezone.localtime(training_session.starts_at), "D j M H:i")
    what = f"{training_session.get_kind_display()}, {when}, {place_name(training_session)}"
    line = _("%(session)s: %(change)s") % {"session": what, "change": notice.get_kind_display()}
    return f"{notice.about.given_name}: {line}" if notice.about else line
