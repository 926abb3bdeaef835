"""Tells by mail that pain notes were opened in an emergency: at once, at any hour, without what they say."""

from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.utils.translation import gettext as _

from athletes.access import answers_for
from athletes.core import ages
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.viewer import roles_held, viewer_for
from sessions.models import Notice
from sessions.services.send_marked import send_marked
from teamtrack.common.clock import today_in, utc_now
from teamtrack.common.jobs import add_job
from teamtrack.common.row_security import rows_open

TASK = "training.mail_emergency"
AGAIN_AFTER, TRIED_FOR = timedelta(minutes=5), timedelta(days=1)


def mail_emergency(*, athlete_id: UUID) -> int:
    """Send what was not seen nor mailed yet about an athlete; how many were taken. What the mail server refuses is
    tried again for a day. A minor is told by the guardians, who get the mail. Runs outside a transaction."""
    athlete = Person.objects.select_related("club").get(pk=athlete_id)
    if not settings.SENDS_MAIL:
        return 0
    since = utc_now() - TRIED_FOR
    waiting = Notice.objects.filter(kind=Notice.Kind.EMERGENCY, about=athlete, seen_at=None, mailed_at=None)
    with rows_open(people=[athlete.pk]):
        notices = list(waiting.filter(made_at__gt=since).exclude(to__email="").select_related("to__club"))
    wanted = [notice for notice in notices if _may_be_sent(notice.to, athlete)]
    taken = sum(_send(notice, athlete) for notice in wanted)
    with rows_open(people=[athlete.pk]):
        is_refused = waiting.filter(pk__in=[notice.pk for notice in wanted]).exists()
    if is_refused:
        due_at = utc_now() + AGAIN_AFTER
        add_job(club_id=athlete.club_id, task=TASK, target_id=athlete.pk, due_at=due_at)
    return taken


def _may_be_sent(person: Person, athlete: Person) -> bool:
    """The decision, asked anew when the mail leaves."""
    today = today_in(person.club.timezone)
    roles = roles_held(person, today)
    if person.pk == athlete.pk:
        return athlete.birth_date is not None and not ages.is_minor(ages.age_on(athlete.birth_date, today))
    if Role.ADMIN in roles or Role.WELFARE in roles:
        return True
    if Role.GUARDIAN not in roles:
        return False
    viewer = viewer_for(person, Role.GUARDIAN)
    return answers_for(viewer=viewer, athletes=[athlete], purposes=["message"]).may(athlete.pk, "message")


def _send(notice: Notice, athlete: Person) -> bool:
    subject, lines = _words(notice.to, athlete)
    return send_marked(person=notice.to, notices=[notice], subject=subject, text="\n".join(lines))


def _words(person: Person, athlete: Person) -> tuple[str, list[str]]:
    """Subject and lines, to the athlete, to whoever keeps the club's records, or to a guardian."""
    said, roles = {"name": athlete.given_name}, roles_held(person, today_in(person.club.timezone))
    opened = _("Pain notes were opened in an emergency")
    if person.pk == athlete.pk:
        line = _("Your pain notes were opened because you could not speak. Sign in to read who opened them and why.")
        return opened, [line]
    if Role.ADMIN in roles or Role.WELFARE in roles:
        line = _("Somebody opened the pain notes of %(name)s. Sign in to read who and why, and speak to the family.")
        return opened, [line % said]
    return _("Please keep your phone at hand: the club may ring you"), [
        _("%(name)s could not speak, and somebody of the club opened earlier pain notes for those who help.") % said,
        _("If nobody has rung you yet, ring the coach: sign in, the number stands with the session."),
        _("There you also read who opened the notes, when and why."),
    ]
