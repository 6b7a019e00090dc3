"""Service visits: windows offered, confirmed with the homeowner, cancelled, done."""

from __future__ import annotations

from datetime import date, time

from contractor.api import events
from contractor.api.transactions import service
from contractor.crews import locks, states
from contractor.crews.models import ServiceVisit, ServiceWindow
from contractor.crews.services.service_placing import withdraw
from contractor.crews.services.standing import OPEN
from contractor.errors import InvalidValueError, WrongStateError
from jobs import locks as job_locks
from jobs import states as job_states
from jobs.models import VisitRequest

V, R = ServiceVisit.Status, VisitRequest.Status


@service
def offer_window(request_pk: int, *, day: date, opens: time, closes: time) -> ServiceWindow:
    """Write down when the homeowner can have somebody in: work starts in between."""
    request = job_locks.lock_visit_request(request_pk)
    if request.status not in (R.OPEN, R.PLANNED):
        raise WrongStateError(
            f"This request is {request.status}.", remedy="Windows belong to open requests."
        )
    if closes < opens:
        raise InvalidValueError("It closes before it opens.", remedy="Swap the two times.")
    if ServiceWindow.objects.filter(request=request, day=day, opens=opens).exists():
        raise InvalidValueError(
            "This window was offered already.", remedy="Take it away to change it."
        )
    return ServiceWindow.objects.create(
        branch=request.branch, request=request, day=day, opens=opens, closes=closes
    )


@service
def confirm_service_visit(visit_pk: int, *, if_match: int | None = None) -> ServiceVisit:
    """The homeowner agreed to this time; another one now costs what a changed date costs."""
    visit = locks.lock_service_visit(visit_pk)
    visit.expect_version(if_match)
    states.move_visit(visit, V.CONFIRMED)
    visit.save()
    events.record("service_visit.confirmed", visit, branch=visit.branch)
    return visit


@service
def cancel_service_visit(visit_pk: int, *, if_match: int | None = None) -> ServiceVisit:
    """Take the visit back; its request waits for the next plan."""
    visit = locks.lock_service_visit(visit_pk)
    visit.expect_version(if_match)
    withdraw(visit, "the office took it back")
    return visit


@service
def finish_service_visit(visit_pk: int, *, if_match: int | None = None) -> ServiceVisit:
    """The visit took place: it and its request are done."""
    visit = locks.lock_service_visit(visit_pk)
    visit.expect_version(if_match)
    states.move_visit(visit, V.DONE)
    visit.save()
    request = job_locks.lock_visit_request(visit.request_id)
    if request.status in (R.OPEN, R.PLANNED):
        job_states.move_visit_request(request, R.DONE)
        request.save()
    events.record("service_visit.done", visit, branch=visit.branch, request=request.pk)
    return visit


def follow_requests() -> int:
    """Close the visits of requests that were finished or called off; return how many."""
    over = ServiceVisit.objects.filter(status__in=OPEN, request__status__in=[R.DONE, R.CANCELLED])
    return sum(_follow(pk) for pk in list(over.order_by("pk").values_list("pk", flat=True)))


@service
def _follow(visit_pk: int) -> bool:
    visit = locks.lock_service_visit(visit_pk)
    request = job_locks.lock_visit_request(visit.request_id)
    if visit.status not in OPEN or request.status not in (R.DONE, R.CANCELLED):
        return False
    if request.status == R.CANCELLED:
        withdraw(visit, "the request was called off")
        return True
    states.move_visit(visit, V.DONE)
    visit.save()
    events.record("service_visit.done", visit, branch=visit.branch, request=request.pk)
    return True
