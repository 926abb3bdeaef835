"""An athlete hides a line of My running: it leaves the own page alone, and comes back."""

from collections.abc import Callable

from django.test import Client

from sessions.models import Entry, HiddenLine
from tests.entries import make_entry, tell
from tests.people import Scene

SignedIn = Callable[..., Client]


def hide(client: Client, entry: Entry, word: str = "yes") -> int:
    return client.post("/athlete/running/hide", {"entry": entry.pk, "hide": word}).status_code


def shown(client: Client) -> bool:
    """Whether the words stand on the page beside the own ones, not only under what was hidden."""
    page = client.get("/athlete/running").content.decode()
    return "Up, up" in page.split("hidden by you")[0]


def test_hidden_on_the_own_page_alone_and_shown_again(scene: Scene, signed_in: SignedIn) -> None:
    words = tell(scene.training_session, scene.athlete, scene.coach, 1, "Up, up")
    make_entry(scene.training_session, "felt", scene.athlete, scene.athlete, effort=4)
    athlete = signed_in(scene.athlete)
    assert shown(athlete)
    assert [hide(athlete, words), hide(athlete, words)] == [302, 302]
    assert not shown(athlete)
    assert "1 line hidden by you" in athlete.get("/athlete/running").content.decode()
    assert "Up, up" in signed_in(scene.coach).get(f"/coach/athletes/{scene.athlete.pk}").content.decode()
    assert hide(athlete, words, "no") == 302
    assert shown(athlete)


def test_hiding_the_own_view_does_not_close_the_coach_s_words(scene: Scene, signed_in: SignedIn) -> None:
    tell(scene.training_session, scene.athlete, scene.coach, 1, "Up, up")
    own = make_entry(scene.training_session, "felt", scene.athlete, scene.athlete, effort=4)
    athlete = signed_in(scene.athlete)
    assert hide(athlete, own) == 302
    assert shown(athlete)


def test_somebody_else_s_line_is_not_found(scene: Scene, signed_in: SignedIn) -> None:
    words = tell(scene.training_session, scene.athlete, scene.coach, 1, "Up, up")
    assert hide(signed_in(scene.adult_athlete), words) == 404
    assert hide(signed_in(scene.coach), words) == 404
    assert not HiddenLine.objects.exists()
