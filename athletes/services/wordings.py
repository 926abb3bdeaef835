"""New wordings: a text is never changed, a version follows it; only a change in meaning asks anew."""

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from athletes.models import Wording
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound, Refused


@transaction.atomic
def write_wording(
    *, viewer: Viewer, purpose: str, child_level: bool, question: str, explanation: str, is_material: bool
) -> Wording:
    """The next version of a question, in force from now on.

    Raises NotFound for who is no admin and for a purpose without a wording, Refused where a text is empty or the same.
    """
    rows = Wording.objects.filter(club=viewer.club_id, purpose=purpose)
    last = rows.filter(child_level=child_level).order_by("-version").first() if viewer.role == Role.ADMIN else None
    if last is None:
        raise NotFound()
    question, explanation = question.strip(), explanation.strip()
    if not question or not explanation:
        raise Refused("CHECK_FIELDS", _("Write the question and what it means. Nothing was changed."))
    if (question, explanation) == (last.question, last.explanation):
        raise Refused("NOTHING_NEW", _("This is the wording that stands. Nothing was changed."))
    newest = rows.aggregate(newest=Max("version"))["newest"]
    change = Wording.Change.MATERIAL if is_material else Wording.Change.MINOR
    wording = Wording.objects.create(
        club_id=viewer.club_id, purpose=purpose, version=newest + 1, language=last.language, child_level=child_level,
        change=change, question=question, explanation=explanation, in_force_from=viewer.now,
    )  # fmt: skip
    log_acts(viewer=viewer, acts=[Act("set", "wording", fields=(purpose, change.value))])
    return wording
