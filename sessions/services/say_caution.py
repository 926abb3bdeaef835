"""A coach says that thunder was heard, or that it is hot; said by mistake, it is taken back."""

from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.db import transaction

from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Caution
from teamtrack.common.errors import NotFound

SAYERS = (Role.COACH, Role.HEAD_COACH)
A_MOMENT = timedelta(seconds=10)
"""Within which the same button pressed again, or sent again, is the same word."""


@dataclass(frozen=True)
class Kept:
    """A caution that a phone kept until it had signal: the id that it gave it, and how long ago it was said."""

    id: UUID
    ago: timedelta


@transaction.atomic
def say_caution(*, viewer: Viewer, kind: str, kept: Kept | None = None) -> Caution:
    """Note the caution now, or when a phone kept it; each thunder counts anew, heat once a day is enough and does no
    harm twice. What a phone sends again is not noted again, nor a form that is sent twice: an undo takes all of it
    back."""
    if viewer.role not in SAYERS:
        raise NotFound()
    caution = Caution(club_id=viewer.club_id, kind=kind, at=viewer.now, by_id=viewer.person_id)
    if kept is not None:
        there = Caution.objects.filter(pk=kept.id).first()
        if there is not None:
            return _own(viewer, there)
        caution.pk, caution.at = kept.id, viewer.now - kept.ago
    elif (again := _of_a_moment_ago(caution)) is not None:
        Caution.objects.filter(pk=again.pk).update(at=viewer.now)
        return again
    caution.save(force_insert=True)
    log_acts(viewer=viewer, acts=[Act("say", "caution", None, (kind,))])
    return caution


def _of_a_moment_ago(caution: Caution) -> Caution | None:
    same = Caution.objects.filter(club=caution.club_id, kind=caution.kind, by=caution.by_id, taken_back_at=None)
    return same.filter(at__gt=caution.at - A_MOMENT, at__lte=caution.at).order_by("-at").first()


def take_back_kept(*, viewer: Viewer, kept: Kept) -> None:
    """What a phone kept was a slip; where it never came here there is nothing to take back."""
    there = Caution.objects.filter(pk=kept.id).first()
    if there is not None:
        take_back_caution(viewer=viewer, caution_id=_own(viewer, there).pk)


def _own(viewer: Viewer, caution: Caution) -> Caution:
    if caution.by_id != viewer.person_id or caution.club_id != viewer.club_id:
        raise NotFound()
    return caution


@transaction.atomic
def take_back_caution(*, viewer: Viewer, caution_id: UUID) -> Caution:
    """Said by mistake: the one before it counts again."""
    if viewer.role not in SAYERS:
        raise NotFound()
    caution = Caution.objects.select_for_update(of=("self",)).filter(pk=caution_id, club=viewer.club_id).first()
    if caution is None:
        raise NotFound()
    Caution.objects.filter(pk=caution.pk, taken_back_at=None).update(taken_back_at=viewer.now)
    log_acts(viewer=viewer, acts=[Act("take_back", "caution", None, (caution.kind,))])
    return caution
