"""The paper twin's page: printed under a number, typed in by the same grid, by two people, any number of times."""

from collections.abc import Callable

import pytest
from django.test import Client

from athletes.models import Restriction
from sessions.models import Entry, PaperSheet
from teamtrack.common.clock import today_in
from tests.people import Scene

SignedIn = Callable[..., Client]


def address(scene: Scene, more: str = "/101") -> str:
    return f"/coach/sessions/{scene.training_session.pk}/sheets{more}"


def typed(client: Client, scene: Scene, **cells: str) -> int:
    """Cells as `r0_1="held"`: line 0, stride 1."""
    form = {name[1:].replace("_", " "): value for name, value in cells.items()}
    return client.post(address(scene, "/101/type"), form).status_code


def kept() -> list[tuple[str, int | None, object]]:
    return [(one.kind, one.stride, one.content.get("shown")) for one in Entry.objects.order_by("seq")]


def counting(client: Client, scene: Scene) -> dict[str, list[object]]:
    return client.get(f"/api/v1/sessions/{scene.training_session.pk}/entries/counting").json()


def test_each_print_has_a_number_of_its_own(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    assert client.post(address(scene, "")).headers["Location"].endswith("/sheets/102")
    text = client.get(address(scene, "/102")).content.decode()
    assert "Sheet 102" in text
    assert "by Rona Tester" in text
    assert "Destroy after" in text
    assert "Ivo Tester" in text
    assert PaperSheet.objects.count() == 2


def test_what_is_typed_is_kept_as_the_sheet_says(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    cells = {"r0_here": "came", "r0_1": "held", "r0_words": "hold a feather", "r0_after": "1", "r1_stop": "stopped"}
    assert typed(client, scene, **cells) == 302
    assert [kind for kind, _stride, _shown in kept()] == ["presence", "observation", "cue", "stop"]
    assert {(one.device, one.by_id) for one in Entry.objects.all()} == {("sheet-101", scene.coach.pk)}
    sheet = PaperSheet.objects.get(number=101)
    assert {one.at for one in Entry.objects.all()} == {f"{sheet.printed_at:%Y-%m-%dT%H:%M:%S.000Z}"}
    assert Entry.objects.get(kind="cue").stride == 1
    assert "“hold a feather”" in client.get(address(scene)).content.decode()


def test_twice_by_two_people_changes_nothing_that_is_equal(scene: Scene, signed_in: SignedIn) -> None:
    rona, bran = signed_in(scene.coach), signed_in(scene.second_coach)
    typed(rona, scene, r0_1="held", r0_2="partly")
    for client in (rona, bran, bran):
        typed(client, scene, r0_2="partly", r0_1="held")
    assert kept() == [("observation", 1, "held"), ("observation", 2, "partly")]
    assert counting(rona, scene)["beside"] == []


def test_what_differs_stands_side_by_side_and_one_tap_settles_it(scene: Scene, signed_in: SignedIn) -> None:
    rona, bran = signed_in(scene.coach), signed_in(scene.second_coach)
    typed(rona, scene, r0_1="held")
    typed(bran, scene, r0_1="partly")
    assert "Typed in two ways" in bran.get(address(scene)).content.decode()
    [[one, other]] = counting(rona, scene)["beside"]
    bran.post(address(scene, "/101/type"), {"keep": one})
    assert counting(rona, scene)["ids"] == [one]
    for client in (bran, rona):
        typed(client, scene, r0_1="partly")
        typed(client, scene, r0_1="held")
    assert counting(rona, scene)["ids"] == [one]
    assert other != one
    assert "Typed in two ways" not in rona.get(address(scene)).content.decode()


def test_undo_takes_back_and_typing_again_brings_back(scene: Scene, signed_in: SignedIn) -> None:
    client = signed_in(scene.coach)
    typed(client, scene, r0_1="held")
    first = str(Entry.objects.get().pk)
    client.post(address(scene, "/101/undo"), {"ids": first})
    assert counting(client, scene)["ids"] == []
    typed(client, scene, r0_1="held")
    assert len(counting(client, scene)["ids"]) == 1
    typed(client, scene, r0_1="out")
    assert counting(client, scene)["ids"] == []
    out = Entry.objects.order_by("seq").last()
    client.post(address(scene, "/101/undo"), {"ids": f"{out.pk} nonsense"})
    assert len(counting(client, scene)["ids"]) == 1


def test_what_cannot_be_kept_stays_typed_with_the_reason(scene: Scene, signed_in: SignedIn) -> None:
    """Words with a character that turns the writing round; the cells beside them are kept."""
    client = signed_in(scene.coach)
    form = {"0 1": "held", "0 words": "soft\u202e thumbs", "1 point": "", "1 here": "came"}
    answer = client.post(address(scene, "/101/type"), form)
    assert answer.status_code == 400
    assert "This cannot be kept as it was typed." in answer.content.decode()
    assert "soft\u202e thumbs" in answer.content.decode()
    assert [kind for kind, _stride, _shown in kept()] == ["observation", "presence"]


def test_who_may_not_be_recorded_is_not_on_the_grid(scene: Scene, signed_in: SignedIn) -> None:
    today = today_in(scene.club.timezone)
    Restriction.objects.create(club=scene.club, athlete=scene.child, purpose="record", first_day=today)
    Restriction.objects.create(club=scene.club, athlete=scene.athlete, purpose="feedback", first_day=today)
    client = signed_in(scene.coach)
    text = client.get(address(scene)).content.decode()
    assert "Ivo" not in text
    assert "Words, Noela Tester" not in text
    typed(client, scene, r0_1="ran", r1_1="held")
    assert kept() == [("run", 1, None)]


@pytest.mark.parametrize("rows", [0, 3, 30])
def test_query_counts_do_not_grow(
    scene: Scene, signed_in: SignedIn, rows: int, django_assert_max_num_queries: Callable[..., object]
) -> None:
    sheet = PaperSheet.objects.get(number=101)
    sheet.rows = sheet.rows * rows
    sheet.save()
    client = signed_in(scene.coach)
    with django_assert_max_num_queries(14):  # type: ignore[attr-defined]
        client.get(address(scene))
