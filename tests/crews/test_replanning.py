"""A published plan is brought in line with what happened: who moves, why, and who does not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from contractor.api.models import Branch, Event
from contractor.crews.errors import OutdatedPlanError
from contractor.crews.models import Absence, Crew, CrewPlan, Pin, Visit
from contractor.crews.services import flow, plans, visits
from contractor.engine.rostering.check import check_plan
from jobs.models import Blackout, Job
from tests.crews.conftest import FRIDAY, MONDAY

pytestmark = pytest.mark.django_db(transaction=True)
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
TUESDAY = MONDAY + timedelta(days=1)
MakeCrew = Callable[..., Crew]
MakeJob = Callable[..., Job]


def propose(branch: Branch, today: date = MONDAY, **more: str) -> CrewPlan:
    plan = plans.request_plan(
        branch.pk, today=today, first_day=today, last_day=FRIDAY, seconds=3, seed=1, **more
    )
    assert plans.compute_plan(plan.pk, at=NOW) is True
    plan.refresh_from_db()
    assert plan.failure == ""
    assert check_plan(plan.instance, plan.plan) == []
    return plan


def in_force(branch: Branch) -> list[Visit]:
    """Publish a first plan and have every visit confirmed; return the visits by job."""
    plans.publish_plan(propose(branch).pk)
    for visit in Visit.objects.order_by("pk"):
        visits.confirm_visit(visit.pk)
    return list(Visit.objects.order_by("job"))


def places(branch: Branch) -> dict[int, tuple[int, date, str]]:
    rows = Visit.objects.filter(branch=branch, status__in=["tentative", "confirmed"])
    return {row.job_id: (row.crew_id, row.date, row.half) for row in rows}


@pytest.mark.parametrize("mode", ["penalty", "fewest-moves"])
def test_without_an_event_nothing_moves(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob, mode: str
) -> None:
    make_crew("A")
    make_crew("B")
    for north in (0.1, 0.2, 0.3, 0.4):
        make_job(north)
    in_force(yard)
    before = places(yard)
    report = propose(yard, mode=mode).report
    assert (report["moves"], report["confirmed"], report["tentative"]) == (0, [], [])
    assert report["events"] == []
    assert sorted(report["untouched"]) == sorted(before)


def test_a_sick_crew_moves_only_its_own(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    make_crew("B")
    for north in (0.1, 0.2):
        make_job(north)
    sick, well = in_force(yard)
    Absence.objects.create(branch=yard, crew=sick.crew, first=sick.date, last=sick.last_date)
    plan = propose(yard, cause="flu")
    [change] = plan.report["confirmed"]
    assert (change["job"], change["visit"]) == (sick.job_id, sick.pk)
    assert change["cause"].startswith(f"crew_absent: {sick.crew_id} ")
    assert change["from"] == {
        "crew": sick.crew_id,
        "date": sick.date.isoformat(),
        "half": sick.half,
    }
    assert plan.report["untouched"] == [well.job_id]
    assert [event["kind"] for event in plan.report["events"]] == ["crew_absent"]
    counts = plans.publish_plan(plan.pk).report["published"]
    assert (counts["moved"], counts["untouched"]) == (1, 1)
    sick.refresh_from_db()
    assert sick.status == "tentative"
    told = Event.objects.get(kind="visit.moved").data
    assert (told["was_confirmed"], told["cause"]) == (True, change["cause"])
    assert Visit.objects.get(pk=well.pk).status == "confirmed"


@pytest.mark.parametrize(
    ("kind", "happen"),
    [
        ("material_late", lambda job: Job.objects.filter(pk=job).update(material_ready=FRIDAY)),
        ("labour_changed", lambda job: Job.objects.filter(pk=job).update(labour_minutes=1500)),
        (
            "homeowner_blackout",
            lambda job: Blackout.objects.create(job_id=job, first=MONDAY, last=MONDAY),
        ),
    ],
)
def test_each_event_is_named_as_the_cause(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob, kind: str, happen: Callable[[int], object]
) -> None:
    make_crew("A")
    job = make_job(labour_minutes=480, due=MONDAY)
    [visit] = in_force(yard)
    assert visit.date == MONDAY
    happen(job.pk)
    plan = propose(yard)
    assert [(one["kind"], one["job"]) for one in plan.report["events"]] == [(kind, job.pk)]
    if kind == "labour_changed":
        assert (plan.report["confirmed"], plan.plan["plan"][str(job.pk)]["halfdays"]) == ([], 4)
        plans.publish_plan(plan.pk)
        visit.refresh_from_db()
        assert (visit.status, visit.half_days, visit.sequence) == ("confirmed", 4, 1)
    else:
        [change] = plan.report["confirmed"]
        assert change["cause"].startswith(f"{kind}: {job.pk} ")


def test_a_cancelled_job_frees_its_crew(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    gone, stays = make_job(0.1), make_job(0.2)
    in_force(yard)
    Job.objects.filter(pk=gone.pk).update(status=Job.Status.CANCELLED)
    plan = propose(yard)
    assert [(one["kind"], one["job"]) for one in plan.report["events"]] == [
        ("job_cancelled", gone.pk)
    ]
    assert visits.finish_visits() == 1
    assert Visit.objects.get(job=gone).status == "cancelled"
    counts = plans.publish_plan(plan.pk).report["published"]
    assert counts["moved"] + counts["untouched"] == 1
    assert list(places(yard)) == [stays.pk]


def test_unconfirmed_jobs_that_moved_are_listed_apart(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    crew = make_crew("A")
    make_job(0.1)
    plans.publish_plan(propose(yard).pk)
    visit = Visit.objects.get()
    Absence.objects.create(branch=yard, crew=crew, first=visit.date, last=visit.last_date)
    report = propose(yard).report
    assert (report["moves"], report["confirmed"]) == (0, [])
    [change] = report["tentative"]
    assert change["visit"] == visit.pk


def test_what_has_started_stays(yard: Branch, make_crew: MakeCrew, make_job: MakeJob) -> None:
    crew = make_crew("A")
    first, second = make_job(0.1, due=MONDAY, labour_minutes=1400), make_job(0.2)
    in_force(yard)
    before = places(yard)
    assert before[first.pk][1:] == (MONDAY, "am")
    Absence.objects.create(branch=yard, crew=crew, first=TUESDAY, last=FRIDAY)
    plan = propose(yard, today=TUESDAY)
    standing = [(one["job"], one["why"]) for one in plan.report["standing"]]
    assert standing == [(first.pk, "started")]
    assert [one["job"] for one in plan.report["confirmed"]] == [second.pk]
    plans.publish_plan(plan.pk)
    assert places(yard) == {first.pk: before[first.pk]}


def test_a_visit_that_the_sick_crew_never_began_is_planned_again(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    crew = make_crew("A")
    job = make_job(0.1, due=MONDAY)
    in_force(yard)
    Absence.objects.create(branch=yard, crew=crew, first=MONDAY, last=MONDAY)
    before = Visit.objects.get()
    plan = propose(yard, today=TUESDAY)
    assert plan.report["standing"] == []
    assert plan.report["not_begun"] == [{"visit": before.pk, "job": job.pk}]
    plans.publish_plan(plan.pk)
    after = Visit.objects.get()
    assert (after.uid, after.sequence, after.date) == (before.uid, 1, TUESDAY)
    assert after.status == "tentative"


def test_a_visit_beyond_the_days_of_the_plan_stays(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    job = make_job(0.1, material_ready=FRIDAY, labour_minutes=240, due=FRIDAY)
    in_force(yard)
    plan = plans.request_plan(
        yard.pk, today=MONDAY, first_day=MONDAY, last_day=TUESDAY, seconds=1, seed=1
    )
    plans.compute_plan(plan.pk, at=NOW)
    plans.publish_plan(plan.pk)
    assert places(yard)[job.pk][1] == FRIDAY


def test_a_pin_moves_a_visit_and_says_whose_it_is(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    job = make_job()
    [visit] = in_force(yard)
    Pin.objects.create(branch=yard, job=job, date=FRIDAY, half="am", owner="kim", reason="permit")
    plan = propose(yard)
    [change] = plan.report["confirmed"]
    assert change["cause"] == f"pinned_elsewhere: pinned to {FRIDAY} am by kim"
    assert visit.date < FRIDAY


def test_a_new_job_is_added_and_nobody_is_moved_in_fewest_moves_mode(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    make_job(0.1, due=MONDAY)
    in_force(yard)
    before = places(yard)
    urgent = make_job(0.2, severity=4, due=MONDAY)
    plan = propose(yard, mode="fewest-moves")
    assert (plan.report["added"], plan.report["moves"]) == ([urgent.pk], 0)
    plans.publish_plan(plan.pk)
    assert before.items() <= places(yard).items()


def test_a_crew_that_no_longer_works_keeps_no_visit(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    make_crew("B")
    make_job(0.1)
    [visit] = in_force(yard)
    visit.crew.is_active = False
    visit.crew.save()
    plans.publish_plan(propose(yard).pk)
    after = Visit.objects.get()
    assert after.crew_id != visit.crew_id


def test_a_proposal_that_waited_too_long_is_refused(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    make_job(due=MONDAY)
    plan = propose(yard)
    with pytest.raises(OutdatedPlanError):
        plans.publish_plan(plan.pk, today=FRIDAY)
    assert Visit.objects.count() == 0
    assert CrewPlan.objects.get().status == "proposed"


def test_a_proposal_from_before_the_plan_in_force_is_refused(
    yard: Branch, make_crew: MakeCrew, make_job: MakeJob
) -> None:
    make_crew("A")
    make_job()
    first, second = propose(yard), propose(yard)
    plans.publish_plan(first.pk)
    with pytest.raises(OutdatedPlanError):
        plans.publish_plan(second.pk)
    assert Visit.objects.get().plan == first
    third = propose(yard)
    visits.cancel_visit(Visit.objects.get().pk)
    with pytest.raises(OutdatedPlanError):
        plans.publish_plan(third.pk)


def test_progress_is_written_at_most_every_other_second(yard: Branch) -> None:
    plan = plans.request_plan(
        yard.pk, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, seconds=9, seed=1
    )
    claimed = flow.claim(CrewPlan, plan.pk, at=NOW)
    assert claimed is not None
    clock = iter([0.0, 0.0, 1.9, 2.0, 3.9, 4.1])
    watch = flow.Watch(claimed, clock=lambda: next(clock))
    seen = []
    for number in range(5):
        watch.say({"step": number})
        seen.append(CrewPlan.objects.get().progress["step"])
    assert seen == [0, 0, 2, 2, 4]


def test_discarding_a_running_plan_stops_its_solver(yard: Branch) -> None:
    plan = plans.request_plan(
        yard.pk, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, seconds=9, seed=1
    )
    claimed = flow.claim(CrewPlan, plan.pk, at=NOW)
    assert claimed is not None
    clock = iter([0.0, 0.0, 3.0])
    watch = flow.Watch(claimed, clock=lambda: next(clock))
    assert watch.is_discarded() is False
    plans.discard_plan(plan.pk)
    assert watch.is_discarded() is True
    flow.propose(CrewPlan, plan.pk, progress={}, cost=1)
    assert CrewPlan.objects.get().status == "discarded"
