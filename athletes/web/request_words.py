"""What requests are called on pages, and the letters to start from."""

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes.core.permissions import Code
from athletes.models import DataRequest
from athletes.permission_words import sentence_for

Kind = DataRequest.Kind

KIND_WORDS = {
    Kind.ACCESS: gettext_lazy("See what the club keeps, and why"),
    Kind.EXPORT: gettext_lazy("Take a copy to another club"),
    Kind.CORRECTION: gettext_lazy("Put something right"),
    Kind.OBJECTION: gettext_lazy("Object to the form history"),
    Kind.RESTRICTION: gettext_lazy("Only store it, do not use it"),
    Kind.ERASURE: gettext_lazy("Have something taken away"),
}
EXPLAINED = {
    Kind.ACCESS: gettext_lazy("An admin answers within a month. What is kept you can read above at once."),
    Kind.EXPORT: gettext_lazy("A file that another club can read. It gives that club no permission."),
    Kind.CORRECTION: gettext_lazy("Say what is wrong and what is right."),
    Kind.OBJECTION: gettext_lazy("From now on nobody uses it, until a person has weighed it."),
    Kind.RESTRICTION: gettext_lazy("From now on it is kept but used for nothing, until you take this back."),
    Kind.ERASURE: gettext_lazy("An admin looks at what may go and what has to stay, and tells you why."),
}
WHAT_WORDS = {
    "record": gettext_lazy("name, groups, contacts"),
    "feedback": gettext_lazy("form history"),
    "health": gettext_lazy("pain notes"),
    "availability": gettext_lazy("what is possible, not coming"),
    "message": gettext_lazy("notices"),
    "log": gettext_lazy("own logs"),
    "attendance": gettext_lazy("who came"),
    "plan": gettext_lazy("past plans"),
    "": "",
}


def kept_to_start_from(row: DataRequest) -> str:
    """What stays and why, as the decision has it."""
    if row.kind != Kind.ERASURE:
        return ""
    always = _(
        "Old permission answers, the access log and notices stay for their own time, as proof of what was allowed."
    )
    first = {
        Code.LEGAL_HOLD: _("It is kept for a legal reason, hidden, and looked at again every 90 days."),
        Code.OBJECTION_ROUTE: _("It is needed while the athlete is a member, and goes 30 days after leaving."),
    }.get(Code(row.code), "")
    return f"{first} {always}".strip()


def letter_to_start_from(row: DataRequest) -> str:
    """A letter that an admin completes; it names the day and the right, and who can be asked further."""
    day = date_format(row.received_on, "j M Y")
    opening = _("On %(day)s you asked us about %(name)s: %(kind)s.") % {
        "day": day,
        "name": row.athlete.full_name,
        "kind": str(KIND_WORDS[Kind(row.kind)]).lower(),
    }
    closing = _(
        "If you do not agree, you can write to us again, complain to the data protection authority of your country, "
        "or go to court."
    )
    return f"{opening}\n\n{_what_we_did(row)}\n\n{closing}"


def _what_we_did(row: DataRequest) -> str:
    if not is_allowed(row):
        return sentence_for(Code(row.code))
    return {
        Kind.ACCESS: _("The copy with this letter is everything we keep, with what it is for and how long it is kept."),
        Kind.EXPORT: _("The copy with this letter can be read by another club."),
        Kind.CORRECTION: _("We have put it right."),
        Kind.OBJECTION: _("We follow your objection: the form history is hidden from now on."),
        Kind.RESTRICTION: _("It is only stored since the day you asked."),
        Kind.ERASURE: _("It has been taken away. Copies in backups go within 35 days."),
    }[Kind(row.kind)]


def needs_no_permission(row: DataRequest) -> bool:
    """Putting right, objecting and storing only are rights that rest on nobody's yes."""
    return row.kind in (Kind.CORRECTION, Kind.OBJECTION, Kind.RESTRICTION)


def is_allowed(row: DataRequest) -> bool:
    """Whether the decision allowed it when it came in, where it is asked."""
    return needs_no_permission(row) or row.code in (Code.OWN_DATA, Code.ON_BEHALF, Code.ERASE)
