"""What counts among entries of several training sessions: each judged by itself."""

from datetime import timedelta

from athletes.viewer import viewer_for
from sessions.models import Entry
from sessions.selectors.counting_entries import entries_that_count
from sessions.selectors.form_history import told_about
from teamtrack.common.clock import today_in
from tests.entries import make_entry, tell
from tests.people import Scene, make_session


def test_naming_an_entry_of_another_session_has_no_effect(scene: Scene) -> None:
    yesterday = today_in(scene.club.timezone) - timedelta(days=1)
    earlier = make_session(scene.group, day=yesterday, coaches=(scene.coach,), athletes=(scene.athlete,))
    first = tell(earlier, scene.athlete, scene.coach, 1, "hold a feather")
    own = first.content | {"words": "grow to the sky"}
    other = make_entry(scene.training_session, "cue", scene.athlete, scene.coach, stride=1, replaces=first, **own)
    assert set(entries_that_count(Entry.objects.all())) == {first, other}
    told = told_about(viewer=viewer_for(scene.coach, "coach"), athlete_ids=[scene.athlete.pk])[scene.athlete.pk]
    assert sorted(said.words for said in told.said) == ["grow to the sky", "hold a feather"]


def test_a_correction_works_within_its_session(scene: Scene) -> None:
    first = tell(scene.training_session, scene.athlete, scene.coach, 1, "hold a feather")
    other = make_entry(
        scene.training_session, "cue", scene.athlete, scene.coach, stride=1, replaces=first, **first.content
    )
    assert entries_that_count(Entry.objects.all()) == [other]
