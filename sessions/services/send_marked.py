"""Sends a mail about notices: marked before it leaves, so that a second run sends nothing twice."""

import logging
from collections.abc import Sequence

from django.core.mail import send_mail

from athletes.models import Person
from sessions.models import Notice
from teamtrack.common.clock import now_in
from teamtrack.common.row_security import rows_open

logger = logging.getLogger(__name__)


def send_marked(*, person: Person, notices: Sequence[Notice], subject: str, text: str) -> bool:
    """One mail to a person about notices to them; false where they were marked already or the server refused it, and
    then the mark goes again."""
    ids = [notice.pk for notice in notices]
    with rows_open(people=[person.pk]):
        taken = Notice.objects.filter(pk__in=ids, mailed_at=None).update(mailed_at=now_in(person.club.timezone))
    if not taken:
        return False
    try:
        send_mail(subject, text, None, [person.email])
    except OSError:
        logger.warning("a mail about notices was not taken")
        with rows_open(people=[person.pk]):
            Notice.objects.filter(pk__in=ids).update(mailed_at=None)
        return False
    return True
