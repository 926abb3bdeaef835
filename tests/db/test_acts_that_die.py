"""The server dies between any two steps of a consent, a request, an export, a correction or an emergency: as before,
or as after."""

from collections.abc import Callable

import pytest

from athletes.models import (
    AccessLogEntry,
    BroughtItem,
    ChainHead,
    ConsentForm,
    ContactNumber,
    Correction,
    DataRequest,
    Guardianship,
    LedgerLine,
    Objection,
    PermissionEvent,
    PermissionRecipient,
    Person,
    Restriction,
)
from athletes.selectors.access_log import chain_fault
from athletes.services.answer_view import answer_view, take_back_view
from athletes.services.consent_forms import answer_form
from athletes.services.consents import enter_paper, see_form, take_back_papers
from athletes.services.copies import bring_copy, copy_for, for_file
from athletes.services.corrections import Wanted, correct_record, undo_correction, values_of
from athletes.services.form_codes import make_form
from athletes.services.heard_answers import Signed
from athletes.services.ledger import ledger_file, lines_in_file
from athletes.services.record_permission import answer_permission, take_back_answer, withdraw_permission
from athletes.services.requests import Asked, end_request, open_request, take_back_request
from athletes.viewer import viewer_for
from sessions.models import EmergencyAccess, Entry, Notice, PainDetail, TrainingSession
from sessions.services.emergency_access import close_emergency, open_in_emergency, read_emergency
from sessions.services.put_right import put_right, stand_again
from teamtrack.common.models import Job
from tests.db.test_keeping import with_faults
from tests.entries import make_pain, tell
from tests.people import answer

TABLES = (
    AccessLogEntry, BroughtItem, ChainHead, ConsentForm, ContactNumber, Correction, DataRequest, Guardianship,
    LedgerLine, Objection, PermissionEvent, PermissionRecipient, Person, Restriction, EmergencyAccess, Entry, Job,
    Notice, PainDetail, TrainingSession,
)  # fmt: skip


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.ERASURE_LEDGER_FILE = tmp_path / "ledger.jsonl"
    settings.HEALTH_KEYS_DIR = tmp_path / "keys"


def state():
    """Every row of these tables, and the lines of the ledger's file."""
    rows = [list(model._base_manager.order_by("pk").values_list()) for model in TABLES]
    return rows, list(lines_in_file(ledger_file()))


class Acts:
    """The acts one after the other, each on what the one before left; `done` holds what it answered."""

    def __init__(self, scene):
        self.scene, self.child, self.done = scene, scene.child, None

    @property
    def greta(self):
        return viewer_for(self.scene.guardian, "guardian")

    @property
    def ada(self):
        return viewer_for(self.scene.admin, "admin")

    @property
    def noela(self):
        return viewer_for(self.scene.athlete, "athlete")

    def all(self) -> list[Callable[[], object]]:
        return [
            self.a_yes, self.a_stop, self.a_stop_undone, self.a_form, self.an_answer_by_code, self.a_form_seen,
            self.a_paper, self.a_paper_undone, self.a_view, self.a_view_undone, self.an_objection,
            self.an_objection_taken_back, self.another_objection, self.an_end, self.a_copy, self.a_copy_brought,
            self.a_correction, self.a_correction_undone,
        ]  # fmt: skip

    def a_yes(self):
        return answer_permission(viewer=self.greta, athlete_id=self.child.pk, purpose="health", answer="yes")

    def a_stop(self):
        return withdraw_permission(viewer=self.greta, athlete_id=self.child.pk, purpose="health")

    def a_stop_undone(self):
        return take_back_answer(viewer=self.greta, athlete_id=self.child.pk, event_id=self.done.pk)

    def a_form(self):
        return make_form(viewer=self.ada, person_id=self.scene.guardian.pk)

    def an_answer_by_code(self):
        typed = self.done[1].shown if isinstance(self.done, tuple) else self.typed
        self.typed = typed
        said = [Signed(self.child, "feed", "yes"), Signed(self.scene.athlete, "health", "yes")]
        return answer_form(typed=typed, place="here", said=said, signed_in=None)

    def a_form_seen(self):
        return see_form(viewer=self.ada, person_id=self.scene.guardian.pk)

    def a_paper(self):
        named = (self.scene.other_coach.pk,)
        said = [Signed(self.child, "share", "yes", named)]
        return enter_paper(viewer=self.ada, giver=self.scene.guardian, signed=said, witness="Hedda Tester")

    def a_paper_undone(self):
        return take_back_papers(viewer=self.ada, event_ids=[one.pk for one in self.done])

    def a_view(self):
        return answer_view(viewer=self.noela, guardian_id=self.scene.guardian.pk, what="health", answer="yes")

    def a_view_undone(self):
        return take_back_view(viewer=self.noela, event_id=self.done.pk)

    def an_objection(self):
        return open_request(viewer=self.greta, athlete_id=self.child.pk, asked=Asked("objection", "feedback"))

    def an_objection_taken_back(self):
        return take_back_request(viewer=self.greta, request_id=self.done.pk)

    def another_objection(self):
        return open_request(viewer=self.noela, athlete_id=self.noela.person_id, asked=Asked("objection", "feedback"))

    def an_end(self):
        return end_request(viewer=self.ada, request_id=self.done.pk, followed=True, answer="We follow it.")

    def a_copy(self):
        return copy_for(viewer=self.greta, athlete_id=self.child.pk)

    def a_copy_brought(self):
        return bring_copy(viewer=self.greta, athlete_id=self.child.pk, copy=for_file(self.done))

    def a_correction(self):
        now = values_of("person", Person.objects.get(pk=self.child.pk))
        wanted = Wanted("person", self.child.pk, now, now | {"given_name": "Ivor", "birth_date": None})
        return correct_record(viewer=self.ada, person_id=self.child.pk, wanted=wanted)

    def a_correction_undone(self):
        return undo_correction(viewer=self.ada, correction_id=self.done.correction.pk)


class OfEntries:
    """What is written is put right, taken back, and stands again; a pain note is opened in an emergency and closed."""

    def __init__(self, scene):
        self.scene, self.done = scene, None
        self.cue = tell(scene.training_session, scene.athlete, scene.coach, 1, "Hops high")
        self.pain = make_pain(scene.training_session, scene.athlete, scene.coach)

    def all(self) -> list[Callable[[], object]]:
        return [
            self.words_put_right, self.words_again, self.words_taken_back, self.words_again, self.note_put_right,
            self.note_again, self.note_opened, self.note_read, self.note_closed,
        ]  # fmt: skip

    def act(self, deed, who="coach", **more):
        viewer = viewer_for(getattr(self.scene, who), who)
        return deed(viewer=viewer, athlete_id=self.scene.athlete.pk, **more)

    def words_put_right(self):
        return self.act(put_right, entry_id=self.cue.pk, own={"words": "Hips high"})

    def words_again(self):
        return self.act(stand_again, entry_id=self.done)

    def words_taken_back(self):
        return self.act(put_right, entry_id=self.done, own=None)

    def note_put_right(self):
        return self.act(put_right, entry_id=self.pain.pk, own={"place": "hip"})

    note_again = words_again

    def note_opened(self):
        return self.act(open_in_emergency, "admin", reason="Fell", cannot_answer=True)

    def note_read(self):
        return self.act(read_emergency, "admin")

    def note_closed(self):
        return self.act(close_emergency, "admin")


def permitted(scene):
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach,))
    return scene


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("acts_on", [Acts, lambda scene: OfEntries(permitted(scene))], ids=["people", "entries"])
def test_an_act_that_dies_at_any_statement_has_done_nothing(scene, acts_on):
    acts = acts_on(scene)
    for act in acts.all():
        before, kept = state(), []
        tried = with_faults(lambda act=act, kept=kept: kept.append(act()), lambda before=before: same(before))
        acts.done = kept[-1]
        assert tried > 5, act.__name__
        assert state() != before, act.__name__
        assert chain_fault(club_id=scene.club.pk) is None, act.__name__


def same(before):
    assert state() == before
