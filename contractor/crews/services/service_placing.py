"""Bring service visits in line with a plan that is being published."""

from __future__ import annotations

from collections.abc import Iterable, Set
from datetime import date, datetime, time, timedelta
from itertools import groupby
from typing import Any

from contractor.api import events
from contractor.api.models import Branch
from contractor.crews import locks, states
from contractor.crews.models import ServicePlan, ServiceVisit
from jobs import locks as job_locks
from jobs import states as job_states
from jobs.models import VisitRequest

V, R = ServiceVisit.Status, VisitRequest.Status
Row = dict[str, Any]


def timed_stops(document: Row, stops: Iterable[Row]) -> dict[int, Row]:
    """Return request key -> member, date, leaves, starts, finishes, returns.

    The drive to a stop belongs to it; the last stop of a day has the drive home too.
    """
    drives = _Drives(document)
    found: dict[int, Row] = {}
    ordered = sorted(stops, key=lambda stop: (stop["member"], stop["day"], stop["start"]))
    for (member, day), route in groupby(ordered, key=lambda stop: (stop["member"], stop["day"])):
        before = "yard"
        for stop in route:
            place = drives.place_of[stop["visit"]]
            slot = {
                "member_id": int(member),
                "date": date.fromisoformat(day),
                "leaves": _shifted(stop["arrive"], -drives.minutes(before, place)),
                "starts": time.fromisoformat(stop["start"]),
                "finishes": time.fromisoformat(stop["finish"]),
                "returns": time.fromisoformat(stop["finish"]),
            }
            found[int(stop["visit"])], before = slot, place
        slot["returns"] = _shifted(stop["finish"], drives.minutes(before, "yard"))
    return found


class _Drives:
    def __init__(self, document: Row) -> None:
        self.number = {name: number for number, name in enumerate(document["places"])}
        self.table = document["minutes"]
        self.place_of = {visit["id"]: visit["place"] for visit in document["visits"]}

    def minutes(self, a: str, b: str) -> int:
        return int(self.table[self.number[a]][self.number[b]])


def _shifted(clock: str, minutes: int) -> time:
    any_day = date(2000, 1, 1)
    moment = datetime.combine(any_day, time.fromisoformat(clock)) + timedelta(minutes=minutes)
    return moment.time()


def place_service_visits(plan: ServicePlan, branch: Branch, standing: Set[int]) -> dict[str, int]:
    """Create, move and cancel the service visits of a locked branch; return the counts."""
    rows = [row for row in locks.lock_open_service_visits(branch) if row.pk not in standing]
    visits = {visit.request_id: visit for visit in rows}
    wanted = timed_stops(plan.instance, plan.plan["stops"])
    counts = {"new": 0, "moved": 0, "untouched": 0, "cancelled": 0}
    for request_pk in sorted(visits.keys() - wanted.keys()):
        withdraw(visits[request_pk], "no place for it in the new plan")
        counts["cancelled"] += 1
    moving = {pk for pk in wanted if pk in visits and not _is_same(visits[pk], wanted[pk])}
    for request_pk in sorted(moving):
        # Two steps, so that visits which swap places never collide in the table's constraints.
        parked = date.fromordinal(1 + visits[request_pk].pk % 300_000)
        ServiceVisit.objects.filter(pk=visits[request_pk].pk).update(date=parked)
    for request_pk, slot in sorted(wanted.items()):
        visit = visits.get(request_pk)
        if visit is None:
            counts["new"] += 1
            _add(plan, branch, request_pk, slot)
        else:
            counts["moved" if request_pk in moving else "untouched"] += 1
            _keep_or_move(plan, visit, slot, is_moving=request_pk in moving)
    return counts


def _is_same(visit: ServiceVisit, slot: Row) -> bool:
    return all(getattr(visit, name) == slot[name] for name in ("member_id", "date", "starts"))


def _add(plan: ServicePlan, branch: Branch, request_pk: int, slot: Row) -> None:
    visit = ServiceVisit(branch=branch, request_id=request_pk, plan=plan, **slot)
    visit.save()
    request = job_locks.lock_visit_request(request_pk)
    if request.status == R.OPEN:
        job_states.move_visit_request(request, R.PLANNED)
        request.save()
    events.record("service_visit.placed", visit, branch=branch, **_place(visit))


def _keep_or_move(plan: ServicePlan, visit: ServiceVisit, slot: Row, *, is_moving: bool) -> None:
    """A confirmed visit at another time is tentative again; another member alone is not told."""
    before, was_confirmed = _place(visit), visit.status == V.CONFIRMED
    visit.plan = plan
    for name, value in slot.items():
        setattr(visit, name, value)
    if is_moving:
        visit.sequence += 1
        other_time = (before["date"], before["starts"]) != (
            visit.date.isoformat(),
            f"{visit.starts:%H:%M}",
        )
        if was_confirmed and other_time:
            states.move_visit(visit, V.TENTATIVE)
    visit.save()
    if is_moving:
        events.record(
            "service_visit.moved",
            visit,
            branch=visit.branch,
            was_confirmed=was_confirmed,
            before=before,
            after=_place(visit),
        )


def withdraw(visit: ServiceVisit, cause: str) -> None:
    """Cancel a locked service visit; its request waits for the next plan."""
    was_confirmed = visit.status == V.CONFIRMED
    states.move_visit(visit, V.CANCELLED)
    visit.sequence += 1
    visit.save()
    request = job_locks.lock_visit_request(visit.request_id)
    if request.status == R.PLANNED:
        job_states.move_visit_request(request, R.OPEN)
        request.save()
    events.record(
        "service_visit.cancelled",
        visit,
        branch=visit.branch,
        was_confirmed=was_confirmed,
        cause=cause,
    )


def _place(visit: ServiceVisit) -> dict[str, Any]:
    return {
        "member": visit.member_id,
        "date": visit.date.isoformat(),
        "starts": f"{visit.starts:%H:%M}",
        "request": visit.request_id,
    }
