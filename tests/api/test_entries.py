"""The exchange of entries answers each entry on its own, keeps it once and gives it back equal."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from athletes.models import AccessLogEntry, Clearance, Person, StaffRole
from sessions.models import Entry, ErasedEntry, Feature, PainDetail, TrainingSession
from sessions.services.insert_entries import FIELDS
from tests.api.entry_posts import OWN_KEYS, Phone, codes, entry, new_id
from tests.people import Scene, answer, make_athlete, make_coach, make_session

PhoneOf = Callable[[Person], Phone]


@pytest.fixture
def phone_of(scene: Scene, signed_in: Callable[..., Client]) -> PhoneOf:
    return lambda person: Phone(signed_in(person), person, scene.training_session)


def allow_health(scene: Scene) -> None:
    """The athlete of 16 and the guardian say yes and name both coaches."""
    coaches = (scene.coach, scene.second_coach)
    answer(scene.athlete, scene.athlete, names=coaches)
    answer(scene.athlete, scene.guardian, names=coaches)


@pytest.mark.parametrize("kind", ["run", "observation", "cue", "own_view", "stop", "pain", "presence"])
def test_a_coachs_entry_is_accepted_and_comes_back_equal(scene: Scene, phone_of: PhoneOf, kind: str) -> None:
    allow_health(scene)
    phone = phone_of(scene.coach)
    sent = entry(kind, scene.athlete, scene.training_session, stride=2)
    assert phone.post(sent) == [{"id": sent["id"], "answer": "accepted", "seq": 1}]
    [item] = phone.items()
    filled = {"replaces": None, "withdrawn": False, **dict.fromkeys(all_keys(kind))} | sent
    assert item == filled | {"by": str(scene.coach.pk), "seq": 1}


def all_keys(kind: str) -> tuple[str, ...]:
    """The contract's table again, by hand."""
    return {
        "run": ("time_s", "steps", "zone_m", "started_at", "crossed_at"),
        "observation": ("feature", "shown", "type", "note"),
        "cue": ("feature", "words", "how", "focus", "understood"),
        "own_view": ("feature", "shown", "words"),
        "stop": (),
        "pain": ("place", "side", "words"),
        "presence": ("state",),
        "felt": ("effort", "feel", "feature", "shown", "words"),
        "day": ("rpe", "minutes", "words"),
    }[kind]


@pytest.mark.parametrize("kind", ["felt", "day", "stop", "pain"])
def test_an_athletes_entry_is_accepted_and_comes_back_equal(scene: Scene, phone_of: PhoneOf, kind: str) -> None:
    allow_health(scene)
    phone = phone_of(scene.athlete)
    sent = entry(kind, scene.athlete, scene.training_session)
    assert codes(phone.post(sent)) == ["accepted"]
    [item] = phone.items()
    filled = {"stride": None, "replaces": None, "withdrawn": False, **dict.fromkeys(all_keys(kind))} | sent
    assert item == filled | {"by": str(scene.athlete.pk), "seq": 1}
    assert [one["id"] for one in phone_of(scene.coach).items()] == [sent["id"]]


def test_repeats_are_known_and_another_content_is_in_conflict(scene: Scene, phone_of: PhoneOf) -> None:
    phone, second = phone_of(scene.coach), phone_of(scene.second_coach)
    first = entry("cue", scene.athlete, scene.training_session)
    other = first | {"words": "Other words"}
    filled = first | {"focus": None, "stride": None, "withdrawn": False}
    answers = phone.post(first, first, filled, other)
    assert [(one["answer"], one["seq"]) for one in answers] == [
        ("accepted", 1),
        ("known", 1),
        ("known", 1),
        ("conflict", 1),
    ]
    assert [(one["answer"], one["seq"]) for one in second.post(other, first)] == [("conflict", 1), ("known", 1)]
    assert [(one["by"], one["words"]) for one in phone.items()] == [(str(scene.coach.pk), "Grow taller")]


def test_numbers_written_otherwise_are_the_same_content(scene: Scene, phone_of: PhoneOf) -> None:
    phone = phone_of(scene.coach)
    sent = entry("run", scene.athlete, scene.training_session, stride=3, time_s=12.5)
    assert codes(phone.post(sent)) == ["accepted"]
    text = json.dumps({"as": str(scene.coach.pk), "entries": [sent]})
    for usual, written in (("12.5", "12.500"), ("12.5", "1.25e1"), ('"stride": 3', '"stride": 3.0')):
        assert usual in text
        response = phone.send(text.replace(usual, written))
        assert codes(response.json()["answers"]) == ["known"]


def test_one_bad_entry_never_refuses_the_others(scene: Scene, phone_of: PhoneOf) -> None:
    phone = phone_of(scene.coach)
    make = lambda **more: entry("observation", scene.athlete, scene.training_session, **more)  # noqa: E731
    sent = [
        make(),
        None,
        make(id="x"),
        make() | {"kind": "race"},
        make(by="me"),
        make(stride=0),
        make(note="\x00"),
        make(session=new_id()),
        entry("felt", scene.athlete, scene.training_session),
        make(feature="no such"),
        make() | {"athlete": str(scene.guardian.pk)},
        make() | {"athlete": str(scene.stranger_athlete.pk)},
        make() | {"athlete": "nobody"},
        make() | {"athlete": str(scene.athlete.pk).upper()},
        make(),
    ]
    answers = phone.post(*sent)
    assert codes(answers) == [
        "accepted",
        "BAD_ENTRY",
        "BAD_ID",
        "UNKNOWN_KIND",
        "UNKNOWN_KEY",
        "BAD_VALUE",
        "BAD_TEXT",
        "WRONG_SESSION",
        "NOT_FOR_YOU",
        "UNKNOWN_FEATURE",
        *["UNKNOWN_ATHLETE"] * 4,
        "accepted",
    ]
    assert [one["field"] for one in answers if one["answer"] == "refused"] == [
        None,
        "id",
        "kind",
        "by",
        "stride",
        "note",
        "session",
        "kind",
        "feature",
        *["athlete"] * 4,
    ]
    assert [one["id"] for one in answers] == [sent[0]["id"], None, None, *(one["id"] for one in sent[3:])]
    assert all(one["detail"] for one in answers if one["answer"] == "refused")
    assert [answers[0]["seq"], answers[-1]["seq"]] == [1, 2]
    assert Entry.objects.count() == 2


def test_the_id_of_a_refused_entry_may_come_again(scene: Scene, phone_of: PhoneOf) -> None:
    phone = phone_of(scene.coach)
    bad = entry("observation", scene.athlete, scene.training_session, feature="no such")
    good = bad | {"feature": "tall_hips"}
    assert codes(phone.post(bad, good, bad)) == ["UNKNOWN_FEATURE", "accepted", "conflict"]


def test_a_retired_feature_is_known_and_another_clubs_is_not(scene: Scene, phone_of: PhoneOf) -> None:
    Feature.objects.create(club=scene.club, code="old", label="Old", retired_on="2020-01-01")
    Feature.objects.create(club=scene.stranger_club, code="theirs", label="Theirs")
    sent = [entry("observation", scene.athlete, scene.training_session, feature=code) for code in ("old", "theirs")]
    assert codes(phone_of(scene.coach).post(*sent)) == ["accepted", "UNKNOWN_FEATURE"]


def test_what_was_taken_away_never_comes_back(scene: Scene, phone_of: PhoneOf) -> None:
    sent = entry("observation", scene.athlete, scene.training_session)
    ErasedEntry.objects.create(club=scene.club, training_session=scene.training_session, entry_id=sent["id"])
    late = sent | {"feature": "no such", "athlete": "nobody"}
    assert codes(phone_of(scene.coach).post(sent, late)) == ["ERASED", "ERASED"]


def test_a_helper_under_18_posts_no_pain(scene: Scene, phone_of: PhoneOf) -> None:
    allow_health(scene)
    sent = [entry(kind, scene.athlete, scene.training_session) for kind in ("pain", "stop", "cue", "felt")]
    assert codes(phone_of(scene.helper).post(*sent)) == ["NOT_FOR_YOU", "accepted", "accepted", "NOT_FOR_YOU"]


def test_an_athlete_posts_about_oneself_only(scene: Scene, phone_of: PhoneOf) -> None:
    sent = [
        entry("felt", scene.child, scene.training_session),
        entry("stop", scene.child, scene.training_session),
        entry("cue", scene.athlete, scene.training_session),
        entry("felt", scene.athlete, scene.training_session),
    ]
    assert codes(phone_of(scene.athlete).post(*sent)) == ["NOT_FOR_YOU"] * 3 + ["accepted"]


def test_who_has_both_roles_is_a_coach_where_on_the_list(scene: Scene, phone_of: PhoneOf) -> None:
    runner = make_athlete(scene.club, "Bo", scene.group, age=25)
    coaching = make_session(scene.group, coaches=(scene.coach,), athletes=(scene.athlete, runner))
    scene.training_session.session_coaches.create(club=scene.club, coach=runner)
    make_athlete_also_coach(scene, runner)
    scene.training_session.session_athletes.create(club=scene.club, athlete=runner)
    as_coach = phone_of(runner)
    assert codes(as_coach.post(entry("felt", runner, scene.training_session))) == ["NOT_FOR_YOU"]
    as_athlete = Phone(as_coach.client, runner, coaching)
    assert codes(as_athlete.post(entry("felt", runner, coaching))) == ["accepted"]


def make_athlete_also_coach(scene: Scene, person: Person) -> None:
    StaffRole.objects.create(club=scene.club, person=person, role="coach", first_day="2020-01-01")
    Clearance.objects.create(
        club=scene.club, coach=person, kind="background", seen_on="2020-01-01", expires_on="2099-01-01"
    )


def test_pain_is_kept_only_while_health_allows_it(scene: Scene, phone_of: PhoneOf) -> None:
    pair = lambda: [entry(kind, scene.athlete, scene.training_session) for kind in ("stop", "pain")]  # noqa: E731
    coach, athlete, second = phone_of(scene.coach), phone_of(scene.athlete), phone_of(scene.second_coach)
    assert codes(coach.post(*pair())) == ["accepted", "NO_GUARDIAN_CONSENT"]
    assert codes(athlete.post(*pair())) == ["accepted", "NO_GUARDIAN_CONSENT"]
    answer(scene.athlete, scene.athlete, names=(scene.coach,))
    answer(scene.athlete, scene.guardian, names=(scene.coach,))
    assert codes(coach.post(*pair())) == ["accepted", "accepted"]
    assert codes(second.post(*pair())) == ["accepted", "NOT_A_NAMED_RECIPIENT"]
    assert codes(athlete.post(*pair())) == ["accepted", "accepted"]
    answer(scene.athlete, scene.guardian, word="withdrawn")
    assert codes(coach.post(*pair())) == ["accepted", "GUARDIAN_SAYS_NO"]
    assert codes(athlete.post(*pair())) == ["accepted", "GUARDIAN_SAYS_NO"]
    assert PainDetail.objects.count() == 2


def test_a_withdrawn_permission_hides_what_was_kept_and_says_what_to_drop(scene: Scene, phone_of: PhoneOf) -> None:
    allow_health(scene)
    coach, athlete = phone_of(scene.coach), phone_of(scene.athlete)
    pain, cue = (entry(kind, scene.athlete, scene.training_session) for kind in ("pain", "cue"))
    coach.post(pain, cue)
    closed = {(str(one.pk), "health") for one in (scene.child, scene.adult_athlete)}
    assert pairs(coach.get()["drop"]) == closed
    answer(scene.athlete, scene.athlete, word="withdrawn")
    page = coach.get()
    assert [one["id"] for one in page["items"]] == [cue["id"]]
    assert pairs(page["drop"]) == closed | {(str(scene.athlete.pk), "health")}
    assert coach.counting() == {"seq": 2, "ids": [cue["id"]], "beside": []}
    own = athlete.get()
    assert [one["id"] for one in own["items"]] == [pain["id"]]
    assert own["drop"] == []
    assert codes(coach.post(pain)) == ["known"]


def pairs(drop: list[dict[str, str]]) -> set[tuple[str, str]]:
    found = [(one["athlete"], one["purpose"]) for one in drop]
    assert len(found) == len(set(found))
    return set(found)


def test_who_was_not_named_does_not_read_the_pain(scene: Scene, phone_of: PhoneOf) -> None:
    answer(scene.athlete, scene.athlete, names=(scene.coach,))
    answer(scene.athlete, scene.guardian, names=(scene.coach,))
    pain = entry("pain", scene.athlete, scene.training_session)
    phone_of(scene.coach).post(pain)
    assert phone_of(scene.second_coach).items() == []
    assert phone_of(scene.helper).items() == []


def test_an_athlete_reads_the_own_and_stop_and_pain_about_oneself(scene: Scene, phone_of: PhoneOf) -> None:
    allow_health(scene)
    coach, athlete = phone_of(scene.coach), phone_of(scene.athlete)
    about = {kind: entry(kind, scene.athlete, scene.training_session) for kind in ("stop", "pain", "cue", "run")}
    of_child = [entry(kind, scene.child, scene.training_session) for kind in ("stop", "cue")]
    coach.post(*about.values(), *of_child)
    felt = entry("felt", scene.athlete, scene.training_session)
    athlete.post(felt)
    assert [one["id"] for one in athlete.items()] == [about["stop"]["id"], about["pain"]["id"], felt["id"]]
    assert athlete.counting()["ids"] == sorted([about["stop"]["id"], about["pain"]["id"], felt["id"]])


def test_pages_by_seq(scene: Scene, phone_of: PhoneOf) -> None:
    phone = phone_of(scene.coach)
    sent = [entry("run", scene.athlete, scene.training_session) for _ in range(5)]
    assert [one["seq"] for one in phone.post(*sent)] == [1, 2, 3, 4, 5]
    first = phone.get(limit=2)
    assert ([one["seq"] for one in first["items"]], first["next"], first["more"]) == ([1, 2], 2, True)
    rest = phone.get(after=2, limit=3)
    assert ([one["seq"] for one in rest["items"]], rest["next"], rest["more"]) == ([3, 4, 5], 5, False)
    nothing = phone.get(after=5)
    assert (nothing["items"], nothing["next"], nothing["more"]) == ([], 5, False)
    assert phone.get(after=2**53)["next"] == 2**53


@pytest.mark.parametrize(
    "query",
    [
        "after=-1",
        "after=",
        "after=x",
        "after=1.0",
        "after=%2B1",
        "after=01",
        "after=%D9%A1",
        f"after={2**53 + 1}",
        "limit=0",
        "limit=501",
        "limit=ten",
        "after=1&after=2",
        "limit=1&limit=1",
        "before=3",
        "after=1&as=coach",
        "After=1",
    ],
)
def test_a_query_that_does_not_exist(scene: Scene, phone_of: PhoneOf, query: str) -> None:
    phone = phone_of(scene.coach)
    response = phone.client.get(f"{phone.address}?{query}")
    assert (response.status_code, response.json()["code"]) == (400, "BAD_QUERY")
    response = phone.client.get(f"{phone.address}/counting?{query}")
    assert (response.status_code, response.json()["code"]) == (400, "BAD_QUERY")


def test_counting_says_what_stands_beside(scene: Scene, phone_of: PhoneOf) -> None:
    coach, second = phone_of(scene.coach), phone_of(scene.second_coach)
    first = entry("observation", scene.athlete, scene.training_session)
    ours = entry("observation", scene.athlete, scene.training_session, replaces=first["id"], shown="held")
    theirs = entry("observation", scene.athlete, scene.training_session, replaces=first["id"], shown="not_yet")
    coach.post(ours)
    second.post(theirs)
    coach.post(first)
    both = sorted([ours["id"], theirs["id"]])
    assert coach.counting() == {"seq": 3, "ids": both, "beside": [both]}
    coach.post(entry("observation", scene.athlete, scene.training_session, replaces=ours["id"], withdrawn=True))
    assert coach.counting() == {"seq": 4, "ids": [theirs["id"]], "beside": []}


def test_the_empty_session(scene: Scene, phone_of: PhoneOf) -> None:
    phone = phone_of(scene.coach)
    assert phone.post() == []
    assert phone.counting() == {"seq": 0, "ids": [], "beside": []}
    assert phone.get()["items"] == []


def test_a_batch_of_five_hundred(scene: Scene, phone_of: PhoneOf) -> None:
    phone = phone_of(scene.coach)
    sent = [entry("cue", scene.athlete, scene.training_session, stride=n % 100) for n in range(500)]
    assert [one["seq"] for one in phone.post(*sent)] == list(range(1, 501))
    assert codes(phone.post(*reversed(sent))) == ["known"] * 500
    page = phone.get()
    assert ([one["id"] for one in page["items"]], page["more"]) == ([one["id"] for one in sent], False)


def test_a_session_called_off_still_takes_entries(scene: Scene, phone_of: PhoneOf) -> None:
    scene.training_session.state = "called_off"
    scene.training_session.save()
    assert codes(phone_of(scene.coach).post(entry("run", scene.athlete, scene.training_session))) == ["accepted"]


def test_seqs_go_on_where_the_sessions_row_was_written_with_an_older_count(scene: Scene, phone_of: PhoneOf) -> None:
    phone, stale = phone_of(scene.coach), TrainingSession.objects.get(pk=scene.training_session.pk)
    phone.post(*(entry("run", scene.athlete, scene.training_session) for _ in range(3)))
    stale.change_words = "moved"
    stale.save()
    assert [one["seq"] for one in phone.post(entry("run", scene.athlete, scene.training_session))] == [4]


def test_every_field_of_an_entry_is_written() -> None:
    assert sorted(FIELDS) == sorted(field.name for field in Entry._meta.concrete_fields)


def test_one_log_line_for_each_athlete_kind_and_batch(scene: Scene, phone_of: PhoneOf) -> None:
    before = AccessLogEntry.objects.count()
    make = lambda kind, athlete, **more: entry(kind, athlete, scene.training_session, **more)  # noqa: E731
    sent = [
        make("cue", scene.athlete),
        make("cue", scene.athlete, focus="body"),
        make("run", scene.athlete),
        make("cue", scene.child),
        make("cue", scene.child, feature="no such"),
    ]
    phone = phone_of(scene.coach)
    phone.post(*sent)
    lines = list(AccessLogEntry.objects.order_by("seq")[before:])
    assert sorted((line.verb, line.kind, line.actor_role, len(line.fields)) for line in lines) == [
        ("record", "cue", "coach", 4),
        ("record", "cue", "coach", 5),
        ("record", "run", "coach", 2),
    ]
    assert len({line.subject for line in lines}) == 2
    assert "Grow taller" not in str([vars(line) for line in lines])
    phone.post(*sent)
    assert AccessLogEntry.objects.count() == before + len(lines)


def test_the_read_of_a_health_note_is_logged(scene: Scene, phone_of: PhoneOf) -> None:
    allow_health(scene)
    phone = phone_of(scene.coach)
    pain = entry("pain", scene.athlete, scene.training_session)
    phone.post(pain, entry("run", scene.athlete, scene.training_session))
    before = AccessLogEntry.objects.count()
    phone.get(after=1)
    assert AccessLogEntry.objects.count() == before
    phone.get()
    line = AccessLogEntry.objects.order_by("-seq").first()
    assert AccessLogEntry.objects.count() == before + 1
    assert (line.verb, line.kind, line.code, line.fields) == ("read", "pain", "CONSENT_OK", ["place", "side", "words"])


@pytest.mark.parametrize("kind", [*OWN_KEYS])
def test_the_number_of_queries_does_not_grow_with_the_batch(
    scene: Scene, phone_of: PhoneOf, kind: str, django_assert_max_num_queries: Any
) -> None:
    allow_health(scene)
    person = scene.athlete if kind in ("felt", "day") else scene.coach
    phone = phone_of(person)
    one = [entry(kind, scene.athlete, scene.training_session)]
    with django_assert_max_num_queries(60) as few:
        phone.post(*one)
    if kind != "pain":
        with django_assert_max_num_queries(len(few.captured_queries)):
            phone.post(*(entry(kind, scene.athlete, scene.training_session) for _ in range(30)))


def test_a_coach_of_another_day_is_judged_by_the_role_of_that_day(scene: Scene, phone_of: PhoneOf) -> None:
    """An adult on the list whose check had run out by that day keeps nothing."""
    unchecked = make_coach(scene.club, "Uwe", scene.group, checked=False)
    scene.training_session.session_coaches.create(club=scene.club, coach=unchecked)
    sent = entry("run", scene.athlete, scene.training_session)
    assert codes(phone_of(unchecked).post(sent)) == ["ASSIGNMENT_ENDED"]
