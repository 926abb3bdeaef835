"""Stop always works: permission x way it reaches the server x role. Pain stops the runner on every phone; why is kept
only where the decision lets it, and where not, the pages say whom to tell in person, with the number."""

import itertools
from datetime import timedelta

import pytest

from athletes.models import Membership, Person, Restriction
from sessions.models import Entry, PainDetail, RosterLeaver, SessionAthlete, SessionCoach, TrainingSession
from teamtrack.common.clock import utc_now
from tests.api.entry_posts import Phone, codes, entry
from tests.people import Scene, answer
from tests.sizes import LONG

pytestmark = pytest.mark.django_db

STATES = ("nothing", "yes", "withdrawn", "restricted", "no notice", "not a member")
SIGNALS = ("at once", "both in one", "sent twice", "the pain first", "next day", "taken off meanwhile")
# Of whom nothing at all may be recorded (the contract's order of the decision, 4 and 8): the phone is told why, and the
# stop is said aloud and on that phone alone.
NOT_RECORDED = {"no notice": "NOTICE_FIRST", "not a member": "MEMBERSHIP_ENDED"}
ROLES = ("coach", "second_coach", "helper", "athlete", "child", "adult_athlete")


def make_state(scene: Scene, athlete: Person, state: str) -> None:
    """The state of what the athlete's family said about health."""
    if state != "nothing":
        for giver in (athlete, scene.guardian):
            answer(athlete, giver, names=(scene.coach,))
    if state == "withdrawn":
        answer(athlete, athlete, word="withdrawn")
    if state == "restricted":
        Restriction.objects.create(
            club=scene.club, athlete=athlete, purpose="health", first_day=utc_now().date() - timedelta(days=1)
        )
    if state == "no notice":
        Membership.objects.filter(athlete=athlete).update(notice_shown_on=None)
    if state == "not a member":
        Membership.objects.filter(athlete=athlete).update(last_day=utc_now().date() - timedelta(days=2))


def may_keep(state: str, role: str) -> bool:
    """By the contract: health needs the answers, never goes to a helper under 18, and only the named coach writes it;
    an athlete's own pen counts where a coach could use it. A missing notice stops membership purposes alone."""
    return state in ("yes", "no notice") and role in ("coach", "athlete", "child", "adult_athlete")


def send(phone: Phone, scene: Scene, athlete: Person, signal: str) -> dict[str, str]:
    """The answers to the stop and the pain, by kind."""
    stop, pain = (entry(kind, athlete, scene.training_session) for kind in ("stop", "pain"))
    if signal == "next day":
        day = timedelta(days=1)
        TrainingSession.objects.filter(pk=scene.training_session.pk).update(
            starts_at=scene.training_session.starts_at - day, ends_at=scene.training_session.ends_at - day
        )
    if signal == "taken off meanwhile":
        rows = SessionCoach.objects.filter(coach=phone.person)
        if not rows.update(taken_off_at=utc_now()):
            SessionAthlete.objects.filter(athlete=phone.person).delete()
            RosterLeaver.objects.create(
                club=scene.club,
                training_session=scene.training_session,
                athlete=phone.person,
                taken_off_at=utc_now(),
            )
    if signal == "both in one":
        told = codes(phone.post(stop, pain))
        return {"stop": told[0], "pain": told[1]}
    if signal == "sent twice":
        phone.post(stop, pain)
    if signal == "the pain first":
        [pain_told] = codes(phone.post(pain))
        [stop_told] = codes(phone.post(stop))
        return {"stop": stop_told, "pain": pain_told}
    [stop_told], [pain_told] = codes(phone.post(stop)), codes(phone.post(pain))
    return {"stop": stop_told, "pain": pain_told}


CELLS = list(itertools.product(STATES, SIGNALS, ROLES))
SOME = [(state, SIGNALS[(a + b) % 6], role) for a, state in enumerate(STATES) for b, role in enumerate(ROLES)]


# In the ordinary run every sixth cell, so that each pair of values is met; all of them on demand.
@pytest.mark.parametrize(
    ("state", "signal", "role"),
    CELLS
    if LONG
    else [(one, SIGNALS[(a + b) % 6], two) for a, one in enumerate(STATES) for b, two in enumerate(ROLES)],
)
def test_a_stop_is_taken_whatever_may_be_kept(scene: Scene, signed_in, state: str, signal: str, role: str) -> None:
    person = getattr(scene, role)
    athlete = scene.athlete if role in ("coach", "second_coach", "helper") else person
    make_state(scene, athlete, state)
    if state == "not a member" and athlete == person:
        pytest.skip("who is no member has no athlete's phone")
    told = send(Phone(signed_in(person), person, scene.training_session), scene, athlete, signal)
    if state in NOT_RECORDED:
        assert told["stop"] == NOT_RECORDED[state], told
    else:
        assert told["stop"] in ("accepted", "known"), told
    assert (told["pain"] in ("accepted", "known")) == may_keep(state, role), told
    assert PainDetail.objects.exists() == may_keep(state, role)
    for other in {"coach", "second_coach", "helper"} - {role}:
        reader = getattr(scene, other)
        if state not in NOT_RECORDED and signal != "next day":
            kinds = [one["kind"] for one in Phone(signed_in(reader), reader, scene.training_session).items()]
            assert "stop" in kinds, other
            assert "pain" not in kinds or other == "coach"


@pytest.mark.parametrize("state", STATES[:4])
@pytest.mark.parametrize("role", ROLES)
def test_the_page_asks_where_only_where_it_may_be_kept(scene: Scene, signed_in, state: str, role: str) -> None:
    person = getattr(scene, role)
    athlete = scene.athlete if role in ("coach", "second_coach", "helper") else person
    make_state(scene, athlete, state)
    browser = signed_in(person)
    if athlete == person:
        page = browser.get(f"/athlete/log/{scene.training_session.pk}").content.decode()
        assert scene.club.emergency_number in page and "Tell an adult here" in page
        assert ('name="place"' in page) == may_keep(state, role)
        assert ("Where it hurts is not kept here" in page) != may_keep(state, role)
    else:
        page = browser.get(f"/coach/sessions/{scene.training_session.pk}").content.decode()
        assert "data-stop" in page and scene.club.emergency_number in page
    assert not Entry.objects.exists()
