"""Jobs are rows: each is done once, whatever the queue says and whichever worker is lost."""

import time
from collections import Counter
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import transaction

from teamtrack.common.clock import utc_now
from teamtrack.common.jobs import LEASE, MOST_ATTEMPTS, RENEW_EVERY_S, add_job, claim_job, end_job, leased, sweep_jobs
from teamtrack.common.models import Job
from tests.people import make_club
from tests.workers import in_threads

pytestmark = pytest.mark.django_db
committed = pytest.mark.django_db(transaction=True)


def make_job(**values) -> Job:
    return Job.objects.create(club=make_club(), task="test.work", target_id=uuid4(), made_at=utc_now(), **values)


def lose(job: Job) -> None:
    """The worker is gone: its lease runs out."""
    Job.objects.filter(pk=job.pk).update(lease_until=utc_now() - timedelta(seconds=1))


def woken() -> tuple[list[str], int]:
    calls: list[str] = []
    count = sweep_jobs(wake=lambda task, job_id: calls.append(job_id))
    return calls, count


@committed
def test_eight_workers_claim_twenty_jobs_each_once():
    club = make_club()
    made = [Job.objects.create(club=club, task="test.work", target_id=uuid4(), made_at=utc_now()) for _ in range(20)]

    def work() -> list:
        return [job.pk for job in made if claim_job(job.pk) is not None]

    results = in_threads(*[work] * 8)
    claimed = Counter(job_id for result in results for job_id in result)
    assert claimed == Counter({job.pk: 1 for job in made})
    assert set(Job.objects.values_list("state", "attempts")) == {("running", 1)}


def test_a_job_in_hand_is_nobody_elses_and_a_done_one_nobodys():
    job = make_job()
    held = claim_job(job.pk)
    assert claim_job(job.pk) is None
    assert end_job(held) is True
    assert claim_job(job.pk) is None
    assert end_job(held) is False
    assert Job.objects.get(pk=job.pk).state == "done"


def test_a_lost_workers_job_is_claimed_again_and_the_lost_one_cannot_end_it():
    job = make_job()
    first = claim_job(job.pk)
    lose(job)
    second = claim_job(job.pk)
    assert second.attempts == 2
    assert end_job(first) is False
    assert Job.objects.get(pk=job.pk).state == "running"
    assert end_job(second) is True


@committed
def test_several_workers_after_a_lost_one_claim_it_once():
    job = make_job()
    claim_job(job.pk)
    lose(job)
    results = in_threads(*[lambda: claim_job(job.pk)] * 6)
    assert [result is not None for result in results].count(True) == 1


@committed
def test_the_lease_is_renewed_while_the_work_goes_on():
    held = claim_job(make_job().pk)
    Job.objects.filter(pk=held.pk).update(lease_until=utc_now())
    with leased(held):
        time.sleep(RENEW_EVERY_S + 0.5)
    assert Job.objects.get(pk=held.pk).lease_until > utc_now() + LEASE - timedelta(seconds=2)


@committed
def test_the_lease_of_a_job_that_another_worker_took_is_not_renewed():
    job = make_job()
    first = claim_job(job.pk)
    lose(job)
    second = claim_job(job.pk)
    until = Job.objects.get(pk=job.pk).lease_until
    with leased(first):
        time.sleep(RENEW_EVERY_S + 0.5)
    assert Job.objects.get(pk=job.pk).lease_until == until
    assert end_job(second)


def test_the_sweep_wakes_for_late_and_lost_jobs_alone():
    late = make_job()
    Job.objects.filter(pk=late.pk).update(made_at=utc_now() - timedelta(minutes=1))
    fresh, in_hand, lost, done = make_job(), make_job(), make_job(), make_job()
    claim_job(in_hand.pk)
    claim_job(lost.pk)
    lose(lost)
    end_job(claim_job(done.pk))
    calls, count = woken()
    assert set(calls) == {str(late.pk), str(lost.pk)}
    assert count == 2
    assert str(fresh.pk) not in calls


def test_it_is_given_up_after_three_lost_workers():
    job = make_job()
    for _ in range(MOST_ATTEMPTS):
        assert claim_job(job.pk) is not None
        lose(job)
    assert woken() == ([], 0)
    assert Job.objects.get(pk=job.pk).state == "failed"
    assert claim_job(job.pk) is None


@committed
def test_claim_lease_and_sweep_together_do_each_job_once():
    """Four workers, each loses some of its jobs on the way; sweeps run between; every job ends done, once."""
    club = make_club()
    made = [Job.objects.create(club=club, task="test.work", target_id=uuid4(), made_at=utc_now()) for _ in range(12)]
    done: list = []

    def work(is_lossy: bool) -> None:
        for number, job in enumerate(made):
            held = claim_job(job.pk)
            if held is None:
                continue
            if is_lossy and number % 3 == 0:
                lose(held)
            elif end_job(held):
                done.append(held.pk)

    in_threads(*[lambda: work(True)] * 2, *[lambda: work(False)] * 2)
    Job.objects.filter(state="waiting").update(made_at=utc_now() - timedelta(minutes=1))
    sweep_jobs(
        wake=lambda task, job_id: done.append(held.pk) if (held := claim_job(job_id)) and end_job(held) else None
    )
    assert Counter(done) == Counter({job.pk: 1 for job in made})
    assert set(Job.objects.values_list("state", flat=True)) == {"done"}


@committed
def test_a_job_is_made_in_the_callers_transaction():
    club = make_club()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        add_job(club_id=club.pk, task="common.sweep_jobs", target_id=uuid4())
        _ = 1 / 0
    assert not Job.objects.exists()
