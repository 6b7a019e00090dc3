"""Two people publish at once: one wins; both would without the lock. PostgreSQL only."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial

import pytest

from contractor.api.models import Branch
from contractor.crews import locks
from contractor.crews.models import Crew, CrewPlan, Visit
from contractor.crews.services import plans, visits
from jobs.models import Job
from tests.crews.conftest import FRIDAY, MONDAY
from tests.inventory.test_races import race, slowly, without_lock

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.fixture
def proposals(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> list[int]:
    """Return the keys of two proposals that were computed from the same rows."""
    make_crew("A")
    make_job()
    keys = []
    for seed in (1, 2):
        plan = plans.request_plan(
            yard.pk, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, seconds=1, seed=seed
        )
        plans.compute_plan(plan.pk, at=NOW)
        keys.append(plan.pk)
    return keys


def test_of_two_proposals_one_is_published(proposals: list[int]) -> None:
    outcomes = race([partial(plans.publish_plan, key) for key in proposals])
    assert outcomes == {"done": 1, "OutdatedPlanError": 1}
    statuses = sorted(CrewPlan.objects.values_list("status", flat=True))
    assert statuses == ["proposed", "published"]
    assert Visit.objects.count() == 1


def test_without_the_lock_on_the_branch_the_tables_break_the_second(
    proposals: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locks, "lock_branch", without_lock(Branch))
    with slowly(monkeypatch, locks, "lock_branch"):
        outcomes = race([partial(plans.publish_plan, key) for key in proposals])
    assert outcomes == {"done": 1, "IntegrityError": 1}  # one_published_plan_per_branch
    assert CrewPlan.objects.filter(status="published").count() == 1


def test_a_visit_is_confirmed_or_moved_never_both(proposals: list[int]) -> None:
    plans.publish_plan(proposals[0])
    visit = Visit.objects.get()
    verbs: list[Callable[[], object]] = [partial(visits.confirm_visit, visit.pk)] * 3
    assert race(verbs) == {"done": 1, "WrongStateError": 2}
