"""The parts of a copy about who somebody is here: record, sign-in, membership, groups, guardians, contacts, work."""

from collections.abc import Iterator

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from athletes.core.marks import written
from athletes.models import (
    Account,
    Clearance,
    CoachAssignment,
    ContactNumber,
    Correction,
    GroupMembership,
    Guardianship,
    Mark,
    Membership,
    Person,
    SignIn,
    SquadMembership,
    StaffRole,
)
from athletes.models.club import Dated
from athletes.services import copy_parts_asked
from athletes.services.copies import Item, item, register_part
from athletes.viewer import Viewer


def register_all() -> None:
    """Called once, when the app is ready."""
    register_part(_record, _sign_in, _memberships, _groups, _guardians, _contacts, _corrections, _marks, _work)
    copy_parts_asked.register_all()


def _days(row: Dated) -> dict[str, str | None]:
    return {"first_day": str(row.first_day), "last_day": str(row.last_day) if row.last_day else None}


def span(row: Dated) -> str:
    """From its first to its last day, as a person reads it."""
    last = date_format(row.last_day, "j M Y") if row.last_day else _("until now")
    return f"{date_format(row.first_day, 'j M Y')} – {last}"


def _record(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What the record holds beside the name and the birth date, which stand at the head of the copy."""
    content = {
        "home_country": athlete.home_country, "email": athlete.email, "phone": athlete.phone,
        "left_on": str(athlete.left_on) if athlete.left_on else None,
    }  # fmt: skip
    shown = ", ".join(str(value) for value in content.values() if value)
    yield item("person", athlete.pk, "", source="club", basis="record", content=content, shown=shown)


def _sign_in(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """The user name and the last sign-in, told to whoever signs in with it alone; what proves it is never told."""
    if viewer.person_id != athlete.pk:
        return
    for row in Account.objects.filter(person=athlete):
        at = row.last_login.isoformat() if row.last_login else ""
        content = {
            "username": row.username, "last_login": at or None, "is_active": row.is_active,
            "handed_over": row.handed_over,
            "sheet_made_at": row.sheet_made_at.isoformat() if row.sheet_made_at else None,
            "signed_out_at": row.signed_out_at.isoformat() if row.signed_out_at else None,
        }  # fmt: skip
        yield item("sign_in", row.pk, at, source="club", basis="sign_in", content=content, shown=row.username)
    for one in SignIn.objects.filter(person=athlete).order_by("began_at", "pk"):
        content = {
            "began_at": one.began_at.isoformat(), "seen_at": one.seen_at.isoformat(), "device": one.device,
            "is_shared": one.is_shared, "method": one.method,
        }  # fmt: skip
        shown = ", ".join(filter(None, (one.device, one.get_method_display())))
        yield item("sign_in", one.pk, content["began_at"], source="you", basis="sign_in", content=content, shown=shown)


def _memberships(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    for row in Membership.objects.filter(athlete=athlete).order_by("first_day", "id"):
        content = _days(row) | {
            "notice_shown_on": str(row.notice_shown_on) if row.notice_shown_on else None,
            "weekly_minutes_cap": row.weekly_minutes_cap,
            "is_trial": row.is_trial,
        }
        shown = span(row) + (f", {_('on trial')}" if row.is_trial else "")
        if row.weekly_minutes_cap is not None:
            shown += ", " + _("at most %(number)d minutes a week") % {"number": row.weekly_minutes_cap}
        yield item("membership", row.pk, row.first_day, source="club", basis="record", content=content, shown=shown)


def _groups(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    for row in GroupMembership.objects.filter(athlete=athlete).select_related("group"):
        content = {"group": row.group.name} | _days(row)
        shown = f"{row.group.name}, {span(row)}"
        yield item("group", row.pk, row.first_day, source="club", basis="record", content=content, shown=shown)
    for squad in SquadMembership.objects.filter(athlete=athlete).select_related("squad"):
        content = {"squad": squad.squad.name} | _days(squad)
        shown = f"{squad.squad.name}, {span(squad)}"
        yield item("group", squad.pk, squad.first_day, source="club", basis="record", content=content, shown=shown)


def _guardians(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """By role and authority alone, on either side: guardians never see each other's contact data."""
    for row in Guardianship.objects.filter(Q(athlete=athlete) | Q(guardian=athlete)):
        is_own = row.athlete_id == athlete.pk
        content = {
            "of": "you" if is_own else "athlete", "authority": row.authority,
            "papers_seen_on": str(row.papers_seen_on) if row.papers_seen_on else None,
        } | _days(row)  # fmt: skip
        shown = f"{row.get_authority_display()}, {span(row)}"
        if not is_own:
            shown = _("for an athlete of the club: %(what)s") % {"what": shown}
        yield item("guardian", row.pk, row.first_day, source="club", basis="record", content=content, shown=shown)


def _contacts(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """Whom the club rings, by what they are to the athlete, and who may collect: names and numbers are theirs."""
    for row in ContactNumber.objects.filter(athlete=athlete):
        content = {"relation": row.relation, "order": row.order, "may_collect": row.may_collect}
        shown = f"{row.relation}, {_('may collect') if row.may_collect else _('may not collect')}"
        yield item("contact", row.pk, "", source="club", basis="record", content=content, shown=shown)


def _corrections(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What was put right: of the own record as it was and is, of other people's numbers and links that it was."""
    for row in Correction.objects.filter(person=athlete).order_by("at", "id"):
        names = sorted({*(row.before or {}), *(row.after or {})})
        content = {"what": row.what, "fields": names, "asked_for": row.request_id is not None}
        if row.what == Correction.What.PERSON:
            content |= {"before": row.before, "after": row.after}
        at = row.at.isoformat()
        shown = row.get_what_display()
        yield item("correction", row.pk, at, source="club", basis="record", content=content, shown=shown)


def _marks(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """Times, each with how it was taken, the wind and the day."""
    for row in Mark.objects.filter(athlete=athlete).order_by("run_on", "id"):
        content = {
            "event": row.event, "time_ms": row.time_ms, "is_hand": row.is_hand, "wind_tenths": row.wind_tenths,
            "run_on": str(row.run_on),
        }  # fmt: skip
        shown = f"{row.event}: {written(row.time_ms, is_hand=row.is_hand)}"
        yield item("mark", row.pk, row.run_on, source="club", basis="record", content=content, shown=shown)


def _work(viewer: Viewer, athlete: Person) -> Iterator[Item]:
    """What somebody does for the club: roles, groups coached, checks that were seen."""
    for role in StaffRole.objects.filter(person=athlete):
        content = {"role": role.role} | _days(role)
        shown = f"{role.get_role_display()}, {span(role)}"
        yield item("work", role.pk, role.first_day, source="club", basis="record", content=content, shown=shown)
    for given in CoachAssignment.objects.filter(coach=athlete).select_related("group"):
        content = {"with_group": given.group.name} | _days(given)
        shown = f"{given.group.name}, {span(given)}"
        yield item("work", given.pk, given.first_day, source="club", basis="record", content=content, shown=shown)
    for seen in Clearance.objects.filter(coach=athlete):
        content = {"check": seen.kind, "seen_on": str(seen.seen_on), "expires_on": str(seen.expires_on)}
        shown = f"{seen.get_kind_display()}, {date_format(seen.expires_on, 'j M Y')}"
        yield item("work", seen.pk, seen.seen_on, source="club", basis="record", content=content, shown=shown)
