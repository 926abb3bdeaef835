"""Copies: a random history taken out and read in elsewhere is the same history, and no permission comes with it."""

import json
import uuid
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from athletes.models import (
    BroughtItem,
    ContactNumber,
    Guardianship,
    Hold,
    LogQuestion,
    Membership,
    Objection,
    PermissionEvent,
    Restriction,
    StaffRole,
    Withholding,
)
from athletes.services.copies import READ_IN, bring_copy, copy_for, copy_of, for_file
from athletes.viewer import viewer_for
from sessions.models import Entry, Focus, RosterLeaver
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import NotFound, Refused
from tests.entries import make_pain, see
from tests.people import (
    answer,
    make_athlete,
    make_club,
    make_feature,
    make_group,
    make_guardian,
    make_person,
    make_session,
)
from tests.sizes import examples

WORDS = st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\x00"), max_size=40)
KINDS = {
    "observation": {"feature": "tall_hips", "shown": "held", "type": "strength"},
    "cue": {"feature": "tall_hips", "how": "told", "understood": "yes"},
    "own_view": {"feature": "tall_hips", "shown": "partly"},
    "felt": {"rpe": 4},
    "presence": {"presence": "came"},
}
HISTORIES = st.lists(st.tuples(st.sampled_from(sorted(KINDS)), st.integers(1, 12), WORDS), max_size=12)
ANSWERS = st.lists(st.tuples(st.sampled_from(("health", "share", "feed")), st.sampled_from(("yes", "no"))), max_size=4)

DAYS = st.dates(date(2020, 1, 1), date(2026, 11, 20))
LATER = st.one_of(st.none(), st.dates(date(2026, 11, 21), date(2030, 1, 1)))
STANDING = st.fixed_dictionaries(
    {
        "cap": st.one_of(st.none(), st.integers(60, 900)),
        "points": st.lists(st.tuples(DAYS, LATER), max_size=3),
        "contacts": st.lists(st.tuples(WORDS, st.booleans()), max_size=3),
        "limits": st.lists(
            st.tuples(st.sampled_from(("restriction", "objection", "withholding", "hold")), DAYS), max_size=3,
            unique_by=lambda one: one[0],
        ),
        "asked": st.lists(WORDS, max_size=2),
        "taken_off": st.booleans(),
    }
)  # fmt: skip
NEVER_BROUGHT = (
    PermissionEvent, Guardianship, ContactNumber, Restriction, Objection, Withholding, Hold, LogQuestion, StaffRole,
)  # fmt: skip


class RoundTrip(TestCase):
    def setUp(self):
        here, self.there = make_club(), make_club(name="Far Meadow Harriers")
        self.group, self.other_group = make_group(here), make_group(self.there)
        self.feature = make_feature(here)

    @settings(max_examples=examples(1000))
    @given(history=HISTORIES, said=ANSWERS, standing=STANDING)
    def test_a_history_comes_back_and_no_permission_does(self, history, said, standing):
        athlete = make_athlete(self.group.club, "Noela", self.group, age=16)
        session = make_session(self.group, athletes=(athlete,))
        for number, (kind, stride, words) in enumerate(history):
            Entry.objects.create(
                id=uuid.uuid4(), club=athlete.club, training_session=session, seq=number, kind=kind, athlete=athlete,
                stride=stride, at="2026-11-25T18:00:00.000Z", device="phone-01", by=athlete, by_athlete=True,
                received_at=utc_now() + timedelta(seconds=number), content=KINDS[kind] | {"words": words},
            )  # fmt: skip
        for purpose, word in said:
            answer(athlete, athlete, purpose, word)
        give_standing(athlete, self.feature, session, standing)
        taken = json.loads(json.dumps(for_file(copy_for(viewer=viewer_for(athlete, "athlete"), athlete_id=athlete.pk))))
        new = make_athlete(self.there, "Noela", self.other_group, age=16)
        viewer = viewer_for(new, "athlete")
        count = bring_copy(viewer=viewer, athlete_id=new.pk, copy=taken)
        wanted = [one for one in taken["items"] if one["kind"] in READ_IN]
        assert count == len(wanted)
        assert bring_copy(viewer=viewer, athlete_id=new.pk, copy=taken) == 0
        again = copy_of(viewer=viewer, athlete=new)["items"]
        keys = ("kind", "id", "made_at", "content")
        back = {(one["kind"], one["id"]): [one[key] for key in keys] for one in again}
        assert all(back[one["kind"], one["id"]] == [one[key] for key in keys] for one in wanted)
        for model in NEVER_BROUGHT:
            lead = "person" if model is StaffRole else "athlete"
            assert not model.objects.filter(**{lead: new}).exists()
        assert new.memberships.get().weekly_minutes_cap is None
        counts = {kind: len([one for one in taken["items"] if one["kind"] == kind]) for kind in ("focus", "contact")}
        assert counts == {"focus": len(standing["points"]), "contact": len(standing["contacts"])}
        assert len([one for one in taken["items"] if one["kind"] in ("limit", "hold")]) == len(standing["limits"])
        assert len([one for one in taken["items"] if one["kind"] == "answer"]) == len(said)


def give_standing(athlete, feature, session, standing):
    """Rows about the athlete of which another club reads in history at most."""
    club, today = athlete.club, date(2026, 11, 20)
    of = {"club": club, "athlete": athlete}
    other = make_person(club, "Officer")
    Membership.objects.filter(athlete=athlete).update(weekly_minutes_cap=standing["cap"])
    for since, until in standing["points"]:
        Focus.objects.create(**of, feature=feature, since=since, until=until, set_by=other)
    for relation, may_collect in standing["contacts"]:
        ContactNumber.objects.create(**of, name="Gundula", phone="1", relation=relation, may_collect=may_collect)
    for limit, day in standing["limits"]:
        match limit:
            case "restriction":
                Restriction.objects.create(**of, purpose="feedback", first_day=day)
            case "objection":
                Objection.objects.create(**of, purpose="feedback", first_day=day)
            case "withholding":
                Withholding.objects.create(**of, guardian=other, set_by=other, first_day=day)
            case "hold":
                Hold.objects.create(**of, reference="A1", set_on=day, set_by=other, review_by=today)
    for number, words in enumerate(standing["asked"]):
        LogQuestion.objects.create(**of, asked_by=athlete, seq=number, words=words, asked_at=utc_now())
    if standing["taken_off"]:
        RosterLeaver.objects.create(**of, training_session=session, taken_off_at=utc_now())


def test_whoever_may_not_have_it_gets_none(scene):
    with pytest.raises(NotFound):
        copy_for(viewer=viewer_for(scene.coach, "coach"), athlete_id=scene.athlete.pk)
    with pytest.raises(Refused) as weighed:
        copy_for(viewer=viewer_for(scene.guardian, "guardian"), athlete_id=scene.athlete.pk)
    assert weighed.value.code == "HUMAN_DECIDES"
    answer(scene.athlete, scene.athlete, "copy", "yes", about_guardian=scene.guardian)
    assert copy_for(viewer=viewer_for(scene.guardian, "guardian"), athlete_id=scene.athlete.pk)["items"]
    assert copy_for(viewer=viewer_for(scene.guardian, "guardian"), athlete_id=scene.child.pk)["items"]


def kinds_for(guardian, athlete):
    copy = copy_for(viewer=viewer_for(guardian, "guardian"), athlete_id=athlete.pk)
    return {one["kind"] for one in copy["items"]}, copy["left_out"]


def test_a_guardian_of_a_child_takes_health_and_the_log_along(scene):
    """Under the digital age the guardian's view is PARENTAL_VIEW of everything, and so is the copy."""
    for athlete in (scene.child, scene.athlete, scene.adult_athlete):
        make_pain(scene.training_session, athlete, scene.coach)
        see(scene.training_session, athlete, scene.coach, 1, "held")
    kinds, left_out = kinds_for(scene.guardian, scene.child)
    assert {"health", "feedback"} <= kinds and left_out == []
    assert "who_looked" in kinds_for(scene.guardian, scene.child)[0]


@pytest.mark.parametrize("who", ["athlete", "adult_athlete"])
def test_a_yes_to_a_copy_is_no_yes_to_health(scene, who):
    athlete = getattr(scene, who)
    guardian = make_guardian(athlete, "Gundula")
    make_pain(scene.training_session, athlete, scene.coach)
    see(scene.training_session, athlete, scene.coach, 1, "held")
    answer(athlete, athlete, "copy", "yes", about_guardian=guardian)
    kinds, left_out = kinds_for(guardian, athlete)
    assert "feedback" in kinds and not {"health", "who_looked"} & kinds
    assert left_out == ["audit", "health"]
    answer(athlete, athlete, "health", "yes", about_guardian=guardian)
    kinds, left_out = kinds_for(guardian, athlete)
    assert "health" in kinds and left_out == ["audit"]


def test_a_no_to_the_form_history_holds_in_the_copy(scene):
    see(scene.training_session, scene.athlete, scene.coach, 1, "held")
    answer(scene.athlete, scene.athlete, "copy", "yes", about_guardian=scene.guardian)
    answer(scene.athlete, scene.athlete, "feedback", "no", about_guardian=scene.guardian)
    kinds, left_out = kinds_for(scene.guardian, scene.athlete)
    assert "feedback" not in kinds and "focus" not in kinds
    assert left_out == ["audit", "feedback", "health"]


def test_a_copy_names_nobody_else(scene):
    make_guardian(scene.child, "Gundula")
    answer(scene.child, scene.guardian, "health", "yes", names=(scene.coach,))
    text = json.dumps(for_file(copy_for(viewer=viewer_for(scene.child, "athlete"), athlete_id=scene.child.pk)))
    for other in ("Gundula", scene.coach.given_name, scene.guardian.given_name):
        assert other not in text


@pytest.mark.parametrize(
    "copy",
    [
        None, [], {}, {"format": "athlete-copy-1"}, {"format": "athlete-copy-1", "items": [1]},
        {"format": "athlete-copy-1", "items": [{"kind": "log", "id": "1", "made_at": "x" * 41, "content": {}}]},
        {"format": "athlete-copy-1", "items": [{"kind": "log", "id": "1", "made_at": "x", "content": {"a": "\x00"}}]},
    ],
)  # fmt: skip
def test_what_is_no_copy_keeps_nothing(scene, copy):
    with pytest.raises(Refused):
        bring_copy(viewer=viewer_for(scene.athlete, "athlete"), athlete_id=scene.athlete.pk, copy=copy)
    assert not BroughtItem.objects.exists()
    assert not Restriction.objects.exists()
