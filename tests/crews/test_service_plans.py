"""Service visits: requests become a checked plan of members' days, published, confirmed, done."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from contractor.api.models import Branch, Event
from contractor.crews.errors import OutdatedPlanError
from contractor.crews.models import (
    Absence,
    Certificate,
    Crew,
    CrewPlan,
    Member,
    ServicePlan,
    ServiceVisit,
    Visit,
)
from contractor.crews.services import service_plans, service_visits
from contractor.crews.services.instance import build_instance
from contractor.crews.services.service_document import build_service
from contractor.engine.rostering.routing_visits_check import check_visits
from contractor.errors import InvalidValueError, WrongStateError
from jobs.models import Job, VisitRequest
from jobs.services import readings
from tests.crews.conftest import FRIDAY, MONDAY

pytestmark = pytest.mark.django_db(transaction=True)
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
TUESDAY = MONDAY + timedelta(days=1)
WEEK_END = date(2026, 3, 6)
MakeCrew = Callable[..., Crew]
MakeJob = Callable[..., Job]


@pytest.fixture
def member(yard: Branch, make_crew: MakeCrew) -> Member:
    crew = make_crew("A", people=1)
    return Member.objects.get(crew=crew)


@pytest.fixture
def ask(make_job: MakeJob) -> Callable[..., VisitRequest]:
    """Return a function: ``ask(0.1, severity=4)``, a visit so many degrees north."""

    def make(north: float = 0.05, **columns: Any) -> VisitRequest:
        job = make_job(north, status=Job.Status.INSTALLED)
        values = {"reason": "asked", "severity": 2, "wanted_by": FRIDAY, **columns}
        return VisitRequest.objects.create(branch=job.branch, job=job, **values)

    return make


def propose(branch: Branch, today: date = MONDAY) -> ServicePlan:
    plan = service_plans.request_service_plan(
        branch.pk, today=today, first_day=today, last_day=WEEK_END, seconds=0.5, seed=1
    )
    assert service_plans.compute_service_plan(plan.pk, at=NOW) is True
    plan.refresh_from_db()
    return plan


def offer(request: VisitRequest, day: date, opens: str, closes: str) -> None:
    service_visits.offer_window(
        request.pk, day=day, opens=time.fromisoformat(opens), closes=time.fromisoformat(closes)
    )


def test_requests_become_visits_and_are_done(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    first, second = ask(0.05), ask(0.06)
    plan = propose(yard)
    assert (plan.status, plan.failure) == ("proposed", "")
    assert check_visits(plan.instance, plan.plan) == []
    assert ServiceVisit.objects.count() == 0, "a proposal sends nobody"
    counts = service_plans.publish_service_plan(plan.pk).report["published"]
    assert counts == {"new": 2, "moved": 0, "untouched": 0, "cancelled": 0}
    visit = ServiceVisit.objects.get(request=first)
    assert visit.member == member
    assert visit.leaves < visit.starts < visit.finishes <= visit.returns
    assert set(VisitRequest.objects.values_list("status", flat=True)) == {"planned"}
    service_visits.confirm_service_visit(visit.pk)
    service_visits.finish_service_visit(visit.pk)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.status, second.status) == ("done", "planned")


def test_both_visits_share_one_round_trip(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    """Two neighbours 0.01 degrees apart: out, over, home, as the great circle says."""
    ask(0.05)
    ask(0.06)
    service_plans.publish_service_plan(propose(yard).pk)
    early, late = ServiceVisit.objects.order_by("date", "starts")
    assert early.date == late.date
    assert early.returns == early.finishes == late.leaves
    assert late.returns > late.finishes


def test_offered_windows_are_kept(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    request = ask()
    offer(request, TUESDAY, "13:00", "13:30")
    offer(request, WEEK_END, "09:00", "09:30")
    Absence.objects.create(branch=yard, member=member, first=TUESDAY, last=TUESDAY)
    service_plans.publish_service_plan(propose(yard).pk)
    visit = ServiceVisit.objects.get()
    assert visit.date == WEEK_END
    assert time(9) <= visit.starts <= time(9, 30)


def test_offering_a_window_twice_is_refused(ask: Callable[..., VisitRequest]) -> None:
    request = ask()
    offer(request, TUESDAY, "13:00", "13:30")
    with pytest.raises(InvalidValueError):
        offer(request, TUESDAY, "13:00", "15:00")
    VisitRequest.objects.update(status="done")
    with pytest.raises(WrongStateError):
        offer(request, WEEK_END, "13:00", "15:00")


def test_skills_by_reason(
    yard: Branch, member: Member, make_crew: MakeCrew, ask: Callable[..., VisitRequest]
) -> None:
    yard.company.settings = {"service_visits": {"skills_by_reason": {"moving_in": ["measuring"]}}}
    yard.company.save()
    able = Member.objects.get(crew=make_crew("B", people=1))
    Certificate.objects.create(
        branch=yard, member=able, skill="measuring", valid_from=date(2025, 1, 1), valid_to=TUESDAY
    )
    ask(reason="moving_in", severity=4)
    service_plans.publish_service_plan(propose(yard).pk)
    visit = ServiceVisit.objects.get()
    assert visit.member == able
    assert visit.date <= TUESDAY, "valid through the last day"


def test_the_severe_request_goes_first(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    """One hour is left in the week; missing severity 4 costs more than missing severity 1."""
    Absence.objects.create(branch=yard, member=member, first=MONDAY, last=date(2026, 3, 5))
    Absence.objects.create(branch=yard, member=member, first=WEEK_END, last=WEEK_END, half="am")
    mild = [ask(0.3, severity=1) for _ in range(3)]
    severe = ask(0.3, severity=4)
    for request in [*mild, severe]:
        offer(request, WEEK_END, "13:30", "13:35")
    plan = propose(yard)
    assert [stop["visit"] for stop in plan.plan["stops"]] == [str(severe.pk)]
    assert {one["visit"] for one in plan.report["missed"]} == {str(one.pk) for one in mild}


def test_nobody_on_an_install_is_sent(
    yard: Branch, member: Member, make_job: MakeJob, ask: Callable[..., VisitRequest]
) -> None:
    assert member.crew is not None
    plan = CrewPlan.objects.create(
        branch=yard, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, status="published"
    )
    Visit.objects.create(
        branch=yard,
        job=make_job(status=Job.Status.PLANNED),
        plan=plan,
        crew=member.crew,
        date=MONDAY,
        half="am",
        half_days=9,
        last_date=WEEK_END,
        last_half="am",
    )
    ask()
    service_plans.publish_service_plan(propose(yard).pk)
    visit = ServiceVisit.objects.get()
    assert visit.date == WEEK_END
    assert visit.leaves >= time(12, 30)


def test_the_crew_is_away_while_a_member_is_out(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    offer(ask(), TUESDAY, "09:00", "09:30")
    service_plans.publish_service_plan(propose(yard).pk)
    built = build_instance(yard, today=MONDAY, first_day=MONDAY, last_day=FRIDAY)
    [crew] = built.document["crews"]
    assert crew["absences"] == [
        {"first": "2026-03-03", "last": "2026-03-03", "half": "am", "why": "service visit"}
    ]


def test_a_confirmed_time_is_kept(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    request = ask()
    service_plans.publish_service_plan(propose(yard).pk)
    visit = ServiceVisit.objects.get()
    service_visits.confirm_service_visit(visit.pk)
    for north in (0.02, 0.03, 0.04):
        ask(north, severity=4)
    service_plans.publish_service_plan(propose(yard).pk)
    after = ServiceVisit.objects.get(request=request)
    assert (after.date, after.starts, after.status) == (visit.date, visit.starts, "confirmed")
    assert after.sequence == 0


def test_a_confirmed_visit_moves_when_nobody_can_go(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    ask()
    service_plans.publish_service_plan(propose(yard).pk)
    visit = ServiceVisit.objects.get()
    service_visits.confirm_service_visit(visit.pk)
    Absence.objects.create(branch=yard, member=member, first=visit.date, last=visit.date)
    service_plans.publish_service_plan(propose(yard).pk)
    after = ServiceVisit.objects.get()
    assert (after.uid, after.sequence, after.status) == (visit.uid, 1, "tentative")
    assert Event.objects.get(kind="service_visit.moved").data["was_confirmed"] is True


def test_what_changed_meanwhile_is_refused(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    ask()
    plan = propose(yard)
    Absence.objects.create(branch=yard, member=member, first=MONDAY, last=MONDAY)
    with pytest.raises(OutdatedPlanError):
        service_plans.publish_service_plan(plan.pk)
    assert ServiceVisit.objects.count() == 0


def test_a_plan_that_waited_too_long_is_refused(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    ask()
    plan = propose(yard)
    with pytest.raises(OutdatedPlanError):
        service_plans.publish_service_plan(plan.pk, today=FRIDAY)
    assert ServiceVisit.objects.count() == 0


def test_nothing_to_do_fails_with_a_reason(yard: Branch, member: Member) -> None:
    plan = propose(yard)
    assert plan.status == "failed"
    assert "No request can be planned" in plan.failure


def test_a_request_closed_elsewhere_closes_its_visit(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    done, off = ask(0.05), ask(0.06)
    service_plans.publish_service_plan(propose(yard).pk)
    readings.finish_visit_request(done.pk, is_done=True)
    readings.finish_visit_request(off.pk, is_done=False)
    assert service_visits.follow_requests() == 2
    statuses = {visit.request_id: visit.status for visit in ServiceVisit.objects.all()}
    assert statuses == {done.pk: "done", off.pk: "cancelled"}
    assert service_visits.follow_requests() == 0


def test_a_planted_fault_is_not_stored(
    yard: Branch,
    member: Member,
    ask: Callable[..., VisitRequest],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ask()
    right = service_plans.solve_service

    def wrong(document: dict[str, Any], **limits: Any) -> dict[str, Any]:
        answer = right(document, **limits)
        answer["stops"][0]["start"] = "23:00"
        return answer

    monkeypatch.setattr(service_plans, "solve_service", wrong)
    plan = propose(yard)
    assert (plan.status, plan.plan) == ("failed", {})
    assert "outside_window" in plan.failure


def test_requests_that_cannot_be_planned_are_named(
    yard: Branch, member: Member, ask: Callable[..., VisitRequest]
) -> None:
    unknown, elsewhen = ask(), ask()
    unknown.job.site.latitude = None
    unknown.job.site.save()
    offer(elsewhen, date(2026, 6, 1), "09:00", "10:00")
    built = build_service(yard, today=MONDAY, first_day=MONDAY, last_day=WEEK_END)
    assert built.left_out == [
        {"request": str(unknown.pk), "reason": "the site has no coordinates"},
        {"request": str(elsewhen.pk), "reason": "no window on these days"},
    ]
