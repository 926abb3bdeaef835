"""The admin's list of what is due: each source is one function that anybody can add, at most seven items are shown."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from athletes.access import athletes_visible_to
from athletes.core import ages
from athletes.core.asking import DAYS_TO_CONFIRM, due_on
from athletes.core.standing import digital_age_of
from athletes.models import (
    DigitalAge,
    Guardianship,
    KeepingStep,
    Membership,
    PermissionEvent,
    Person,
    RulesConfirmed,
)
from athletes.selectors.access_log import open_questions
from athletes.selectors.keeping import open_holds
from athletes.selectors.requests import open_requests
from athletes.selectors.roster import checks_running_out
from athletes.selectors.signatures import signers
from athletes.viewer import Viewer, in_force
from teamtrack.common.row_security import rows_open

MOST_ITEMS = 7
COMING_OF_AGE_AHEAD = timedelta(days=30)
REVIEW_AHEAD = timedelta(days=14)
TRIAL_AHEAD = timedelta(days=7)


@dataclass(frozen=True)
class Due:
    """One thing that needs the admin by a day, with the one button that leads to it."""

    on: date
    text: str
    button: str
    href: str


Source = Callable[[Viewer], Iterable[Due]]
_sources: list[Source] = []
_urgent: list[Source] = []


def register_source(source: Source) -> Source:
    """Add a source of things to do; also a decorator."""
    if source not in _sources:
        _sources.append(source)
    return source


def register_urgent(source: Source) -> Source:
    """The same for what stands before all else, and is told to the welfare lead too."""
    if source not in _urgent:
        _urgent.append(source)
    return source


def urgent_items(viewer: Viewer) -> list[Due]:
    """What an admin or welfare lead has to see before all else."""
    return [due for source in _urgent for due in source(viewer)]


def due_items(viewer: Viewer) -> tuple[list[Due], int]:
    """At most seven things, the urgent and then the first due first, and how many more there are behind them."""
    items = urgent_items(viewer)
    items += sorted((due for source in _sources for due in source(viewer)), key=lambda due: due.on)
    return items[:MOST_ITEMS], max(0, len(items) - MOST_ITEMS)


def is_confirmed(viewer: Viewer) -> bool:
    """Whether a named person of the club stands for rules, ages and wordings: before that no real data goes in."""
    return RulesConfirmed.objects.filter(club=viewer.club_id).exists()


@register_source
def rules_to_confirm(viewer: Viewer) -> Iterable[Due]:
    if not is_confirmed(viewer):
        text = _("Before real names go in, a named person confirms the club's rules, ages and wordings.")
        yield Due(date.min, text, _("Read and confirm"), reverse("rules"))


@register_source
def requests_due(viewer: Viewer) -> Iterable[Due]:
    for line in open_requests(viewer):
        said = {"name": line.row.athlete.full_name, "day": date_format(line.row.due_on, "j M Y")}
        text = _("A request about %(name)s is due on %(day)s.") % said
        yield Due(line.row.due_on, text, _("Next step"), reverse("admin-request", args=[line.row.pk]))


@register_source
def consents_that_block(viewer: Viewer) -> Iterable[Due]:
    rows = signers(viewer)
    if rows:
        most = rows[0]
        text = ngettext(
            "%(count)d family still has questions; %(name)s alone closes %(opens)d.",
            "%(count)d families still have questions; %(name)s alone closes %(opens)d.",
            len(rows),
        ) % {"count": len(rows), "name": most.person.full_name, "opens": most.opens}
        yield Due(viewer.today + timedelta(days=14), text, _("Consents"), reverse("consents"))


@register_source
def checks(viewer: Viewer) -> Iterable[Due]:
    for row in checks_running_out(viewer):
        said = {"name": row.coach.full_name, "check": row.kind, "day": date_format(row.expires_on, "j M Y")}
        text = _("%(name)s: %(check)s runs out on %(day)s.") % said
        yield Due(
            row.expires_on, text, _("Enter the new one"), reverse("staff-person", args=[row.coach.pk]) + "#checks"
        )


@register_source
def trials(viewer: Viewer) -> Iterable[Due]:
    """Visitors whose trial ends within a week: they join, or they are gone."""
    rows = Membership.objects.filter(in_force(viewer.today), club=viewer.club_id, is_trial=True)
    for row in rows.filter(last_day__lte=viewer.today + TRIAL_AHEAD).select_related("athlete"):
        said = {"name": row.athlete.full_name, "day": date_format(row.last_day, "j M Y")}
        text = _("%(name)s is on trial until %(day)s: joins, or leaves.") % said
        yield Due(row.last_day, text, _("Decide"), reverse("admin-person", args=[row.athlete_id]))


@register_source
def coming_of_age(viewer: Viewer) -> Iterable[Due]:
    for one in coming_of_age_list(viewer):
        said = {"name": one.athlete.full_name, "years": one.years, "day": date_format(one.by, "j M Y")}
        text = _("%(name)s, %(years)d, decides from now on: answers are wanted by %(day)s.") % said
        yield Due(one.by, text, _("See who"), reverse("consents") + "#of-age")


@register_source
def nights_that_wait(viewer: Viewer) -> Iterable[Due]:
    waiting = KeepingStep.objects.filter(club=viewer.club_id, state=KeepingStep.State.WAITS).select_related("run")
    for step in waiting:
        text = ngettext(
            "The night of %(day)s waits: %(count)d row of %(kind)s would go.",
            "The night of %(day)s waits: %(count)d rows of %(kind)s would go.",
            step.due,
        ) % {"day": date_format(step.run.day, "j M Y"), "count": step.due, "kind": step.get_kind_display()}
        yield Due(step.run.day, text, _("See what waits"), reverse("keeping"))


@register_source
def holds_to_review(viewer: Viewer) -> Iterable[Due]:
    """Holds that are to be looked at again within two weeks."""
    for hold in open_holds(viewer):
        if hold.review_by <= viewer.today + REVIEW_AHEAD:
            said = {"name": hold.athlete.full_name, "day": date_format(hold.review_by, "j M Y")}
            text = _("A hold on what is kept of %(name)s is looked at again by %(day)s.") % said
            yield Due(hold.review_by, text, _("Look at it"), reverse("keeping") + "#holds")


@register_source
def wishes_to_stop(viewer: Viewer) -> Iterable[Due]:
    """Carers and others without the right to decide who wish that something stops: an admin speaks to the family."""
    for event in _wishes(viewer):
        said = {"giver": event.giver.full_name, "name": event.athlete.full_name, "what": event.get_purpose_display()}
        text = _("%(giver)s, who does not decide, wishes for %(name)s that this stops: %(what)s.") % said
        day = event.at.astimezone(viewer.now.tzinfo).date()
        yield Due(day, text, _("Who decides"), reverse("consents") + "#wishes")


@register_source
def log_questions(viewer: Viewer) -> Iterable[Due]:
    """Questions about lines of the access log: an answer is due as for any other request about data."""
    for question, _line in open_questions(viewer):
        text = _("%(name)s asks about a line of the access log.") % {"name": question.asked_by.full_name}
        asked = question.asked_at.astimezone(viewer.now.tzinfo).date()
        yield Due(due_on(asked), text, _("Answer"), reverse("admin-access-log"))


def _wishes(viewer: Viewer) -> list[PermissionEvent]:
    links = Guardianship.objects.filter(in_force(viewer.today), club=viewer.club_id).exclude(authority="full")
    pairs = set(links.values_list("guardian_id", "athlete_id"))
    since = viewer.now - timedelta(days=60)
    events = PermissionEvent.objects.filter(
        club=viewer.club_id, answer=PermissionEvent.Answer.WITHDRAWN, capacity="guardian", at__gt=since,
        giver__in={guardian for guardian, _athlete in pairs},
    )  # fmt: skip
    with rows_open(club_id=viewer.club_id):
        rows = list(events.select_related("giver", "athlete").order_by("at"))
    return [row for row in rows if (row.giver_id, row.athlete_id) in pairs]


def open_wishes(viewer: Viewer) -> list[PermissionEvent]:
    """The wishes of the last 60 days, for the page that they lead to."""
    return _wishes(viewer)


@dataclass(frozen=True)
class OfAge:
    """An athlete whose birthday moves the decision, and by when the own answer is wanted."""

    athlete: Person
    years: int
    by: date


def coming_of_age_list(viewer: Viewer) -> list[OfAge]:
    """Whoever reached the digital age in the last 90 days or 18 in the last 30, or does within 30; fixed queries."""
    rows = DigitalAge.objects.filter(club=viewer.club_id, valid_from__lte=viewer.today).order_by("valid_from")
    table = {row.country: (row.age, row.joint) for row in rows}
    found = []
    for athlete in athletes_visible_to(viewer, "record"):
        if athlete.birth_date is None:
            continue
        countries = sorted({viewer.club.country, athlete.home_country or viewer.club.country})
        digital = max(digital_age_of(table, countries)[0])
        for years, open_for in ((digital, DAYS_TO_CONFIRM), (ages.ADULT_AGE, 0)):
            day = ages.birthday(athlete.birth_date, years)
            by = day + timedelta(days=open_for)
            if day - COMING_OF_AGE_AHEAD <= viewer.today <= max(by, day + COMING_OF_AGE_AHEAD):
                found.append(OfAge(athlete, years, by))
    return _unanswered(viewer, sorted(found, key=lambda one: one.by))


def _unanswered(viewer: Viewer, rows: list[OfAge]) -> list[OfAge]:
    """Without those who have answered the question about health since that birthday."""
    people = {row.athlete.pk for row in rows}
    events = PermissionEvent.objects.filter(athlete__in=people, capacity="athlete", purpose="health")
    with rows_open(club_id=viewer.club_id):
        said = list(events.values_list("athlete_id", "at"))
    answered = {(athlete_id, at.astimezone(viewer.now.tzinfo).date()) for athlete_id, at in said}
    return [
        row
        for row in rows
        if not any(
            pk == row.athlete.pk and row.athlete.birth_date and day >= ages.birthday(row.athlete.birth_date, row.years)
            for pk, day in answered
        )
    ]
