"""A plan is asked for, computed, checked, proposed, published; visits follow it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from contractor.api.models import Branch
from contractor.crews.errors import NobodyCertifiedError, OutdatedPlanError
from contractor.crews.models import Absence, Crew, CrewPlan, Holiday, Visit
from contractor.crews.services import flow, plans, reasons, replanning, visits
from contractor.crews.services.instance import build_instance, place_km
from contractor.engine.rostering.check import check_plan
from contractor.errors import InvalidValueError
from jobs.models import Job
from tests.crews.conftest import FRIDAY, MONDAY

pytestmark = pytest.mark.django_db(transaction=True)
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
NOTHING = {"new": 0, "moved": 0, "resized": 0, "untouched": 0, "cancelled": 0}


def propose(branch: Branch) -> CrewPlan:
    plan = plans.request_plan(
        branch.pk, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, seconds=2, seed=1
    )
    assert plans.compute_plan(plan.pk, at=NOW) is True
    return CrewPlan.objects.get(pk=plan.pk)


def test_plan_is_proposed_with_a_bound(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    make_crew("A")
    make_job()
    plan = propose(yard)
    assert plan.status == CrewPlan.Status.PROPOSED
    assert plan.bound is not None
    assert plan.cost is not None
    assert plan.bound <= plan.cost
    assert check_plan(plan.instance, plan.plan) == []
    assert Visit.objects.count() == 0, "a proposal moves nobody"


def test_publishing_makes_visits(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    crew = make_crew("A")
    job = make_job()
    plan = plans.publish_plan(propose(yard).pk)
    visit = Visit.objects.get()
    assert (visit.crew, visit.status, visit.sequence) == (crew, "tentative", 0)
    assert visit.date >= MONDAY
    assert Job.objects.get(pk=job.pk).status == Job.Status.PLANNED
    assert plan.report["published"] == {**NOTHING, "new": 1}


def test_same_again_moves_nothing(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    make_crew("A")
    make_job()
    plans.publish_plan(propose(yard).pk)
    visits.confirm_visit(Visit.objects.get().pk)
    plan = plans.publish_plan(propose(yard).pk)
    assert plan.report["published"] == {**NOTHING, "untouched": 1}
    visit = Visit.objects.get()
    assert (visit.status, visit.sequence, visit.plan) == ("confirmed", 0, plan)
    statuses = CrewPlan.objects.order_by("pk").values_list("status", flat=True)
    assert list(statuses) == ["superseded", "published"]


def test_moved_visit_keeps_its_uid(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    crew = make_crew("A")
    make_job()
    plans.publish_plan(propose(yard).pk)
    before = Visit.objects.get()
    Absence.objects.create(branch=yard, crew=crew, first=before.date, last=before.last_date)
    plan = plans.publish_plan(propose(yard).pk)
    after = Visit.objects.get()
    assert plan.report["published"]["moved"] == 1
    assert (after.uid, after.sequence) == (before.uid, 1)
    assert after.date > before.last_date


def test_two_visits_swap_places(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    make_crew("A")
    first, second = make_job(0.1), make_job(0.2)
    plan = plans.publish_plan(propose(yard).pk)
    slots = plan.plan["plan"]
    swapped = {str(first.pk): slots[str(second.pk)], str(second.pk): slots[str(first.pk)]}
    again = propose(yard)
    CrewPlan.objects.filter(pk=again.pk).update(plan={**again.plan, "plan": swapped})
    report = plans.publish_plan(again.pk).report
    assert report["published"] == {**NOTHING, "moved": 2}


def test_proposal_that_no_longer_holds_is_refused(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    crew = make_crew("A")
    make_job()
    plan = propose(yard)
    Absence.objects.create(branch=yard, crew=crew, first=MONDAY, last=MONDAY)
    with pytest.raises(OutdatedPlanError):
        plans.publish_plan(plan.pk)
    assert Visit.objects.count() == 0


def test_computing_twice_is_harmless(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    make_crew("A")
    make_job()
    plan = propose(yard)
    assert plans.compute_plan(plan.pk, at=NOW) is False
    assert plans.compute_requested(NOW) == 0


def test_dead_worker_is_followed_by_another(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    make_crew("A")
    make_job()
    plan = plans.request_plan(
        yard.pk, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, seconds=1, seed=1
    )
    claimed = flow.claim(CrewPlan, plan.pk, at=NOW)
    assert claimed is not None
    assert plans.compute_requested(NOW) == 0
    assert plans.compute_requested(NOW + timedelta(minutes=5)) == 1
    assert CrewPlan.objects.get().status == CrewPlan.Status.PROPOSED


def test_plan_with_a_planted_fault_is_not_stored(
    yard: Branch,
    make_crew: Callable[..., Crew],
    make_job: Callable[..., Job],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    make_crew("A")
    job = make_job()
    right = replanning.solve

    def wrong(*given: Any) -> replanning.Solved:
        solved = right(*given)
        solved.answer["plan"][str(job.pk)]["date"] = "2026-03-07"  # a Saturday
        return solved

    monkeypatch.setattr(replanning, "solve", wrong)
    plan = propose(yard)
    assert (plan.status, plan.plan) == (CrewPlan.Status.FAILED, {})
    assert "not_a_working_day" in plan.failure or "weekday" in plan.failure


def test_job_that_nobody_is_certified_for(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    make_crew("A", skills=("lead_safe",))
    job = make_job(skills=["lead_safe", "confined"])
    with pytest.raises(NobodyCertifiedError) as refusal:
        visits.require_plannable(job, today=MONDAY, last_day=FRIDAY)
    [reasons] = refusal.value.facts["crews"].values()
    assert reasons == ["nobody on the crew is certified for confined"]


def test_certificate_ends_inside_the_plan(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    """Valid through its last day, that day included."""
    make_crew("A", skills=("lead_safe",), until=MONDAY)
    job = make_job(skills=["lead_safe"], labour_minutes=240)
    plan = propose(yard)
    assert plan.plan["plan"][str(job.pk)]["date"] == "2026-03-02"


def test_wrong_horizon_is_refused(yard: Branch) -> None:
    with pytest.raises(InvalidValueError):
        plans.request_plan(
            yard.pk, today=MONDAY, first_day=FRIDAY, last_day=MONDAY, seconds=1, seed=1
        )
    assert CrewPlan.objects.count() == 0


def test_site_without_coordinates_is_left_out_and_named(
    yard: Branch, make_job: Callable[..., Job]
) -> None:
    job = make_job()
    job.site.latitude = None
    job.site.save()
    built = build_instance(yard, today=MONDAY, first_day=MONDAY, last_day=FRIDAY)
    assert built.document["jobs"] == []
    assert built.left_out == [{"job": str(job.pk), "reason": "the site has no coordinates"}]


def test_plane_agrees_with_the_great_circle(yard: Branch) -> None:
    """Haversine on the IUGG mean radius; within 0.1 % at 100 km."""
    from contractor.engine.rostering.travel import Place, great_circle_km

    for latitude, longitude in ((42.9, -74.0), (42.0, -73.0), (41.3, -74.8)):
        east, north = place_km(yard, latitude, longitude)
        exact = great_circle_km(Place(42.0, -74.0), Place(latitude, longitude))
        assert (east**2 + north**2) ** 0.5 == pytest.approx(exact, rel=1e-3)


def test_finished_jobs_finish_their_visits(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    make_crew("A")
    job = make_job()
    plans.publish_plan(propose(yard).pk)
    Job.objects.filter(pk=job.pk).update(status=Job.Status.INSTALLED)
    assert visits.finish_visits() == 1
    assert Visit.objects.get().status == Visit.Status.DONE


def test_obstacles_name_each_rule(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    crew = make_crew("A")
    job = make_job(weekdays=[0])
    plan = propose(yard)
    answer = reasons.why_not(plan, job.pk, crew.pk, date(2026, 3, 3), "am")
    assert answer["is_legal"] is False
    assert "weekday_not_allowed" in {one["code"] for one in answer["obstacles"]}


def test_two_half_day_jobs_share_one_drive(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    """Both 0.1 degrees north: 11.12 km x 1.3 at 60 km/h is 14.46 min out and as much back."""
    make_crew("A")
    make_job(labour_minutes=180)
    make_job(labour_minutes=180)
    plan = plans.publish_plan(propose(yard).pk)
    assert (plan.cost, plan.is_proven) == (29, True)
    first, second = Visit.objects.order_by("half")
    assert (first.date, first.half, second.half) == (second.date, "am", "pm")


def test_a_holiday_of_the_branch_may_lie_inside_a_job(
    yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]
) -> None:
    """30 h for two people are four half-days: Monday, and Wednesday after the holiday."""
    make_crew("A")
    make_job(labour_minutes=1800, due=MONDAY + timedelta(days=2))
    tuesday = MONDAY + timedelta(days=1)
    holiday = Holiday.objects.create(branch=yard, day=tuesday, name="Founders", is_confirmed=False)
    plan = propose(yard)
    assert plan.plan["plan"][str(Job.objects.get().pk)]["date"] == str(MONDAY)
    Holiday.objects.filter(pk=holiday.pk).update(is_confirmed=True)
    with pytest.raises(OutdatedPlanError):
        plans.publish_plan(plan.pk)
    plans.publish_plan(propose(yard).pk)
    visit = Visit.objects.get()
    assert (visit.date, visit.half_days) == (MONDAY, 4)
    assert (visit.last_date, visit.last_half) == (MONDAY + timedelta(days=2), "pm")
