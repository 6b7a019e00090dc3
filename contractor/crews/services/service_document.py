"""Turn rows into a ``service-visits/1`` document: who is free when, and what has to be done.

Judgements, made here once. A member is free on a half-day on which neither the member nor the
crew is away and the crew has no install visit. A homeowner who offered no window can be visited
on the weekdays agreed for the job. A start after the wanted day costs by severity and days late.
A confirmed visit keeps its time: any other costs what a changed date costs. Days start and end
at the branch. Minutes and prices are common practice; the company sets its own under
``company.settings["service_visits"]``.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from contractor.api.models import Branch
from contractor.crews.hours import HALF_DAY_HOURS
from contractor.crews.models import ServiceVisit, ServiceWindow
from contractor.crews.services.instance import rates_of
from contractor.crews.services.member_days import member_days
from contractor.crews.services.standing import OPEN
from jobs.models import VisitRequest

R = VisitRequest.Status
YARD = "yard"
MOST_WINDOWS = 40  # what service-visits/1 allows
DEFAULTS: dict[str, Any] = {
    "minutes": 60,
    "minutes_by_reason": {"asked": 45, "measure": 45, "crack": 60, "moving_in": 90},
    "skills_by_reason": {},
    "missed": {"1": 300, "2": 600, "3": 1500, "4": 4000},
    "late_per_day": {"1": 5, "2": 10, "3": 40, "4": 150},
    "day_cost": 60,
    "changed_time": 500,
}


@dataclass(frozen=True)
class ServiceBuilt:
    """The document (its ``minutes`` still empty), the requests left out, and visits that stand."""

    document: dict[str, Any]
    left_out: list[dict[str, str]]
    standing: tuple[ServiceVisit, ...]


def build_service(branch: Branch, *, today: date, first_day: date, last_day: date) -> ServiceBuilt:
    """Read what a service plan of these days depends on."""
    visits, standing = _open_visits(branch, first_day, last_day)
    rates = {**DEFAULTS, **branch.company.settings.get("service_visits", {})}
    weekdays = rates_of(branch)["workdays_per_week"]
    days = member_days(branch, weekdays, first_day, last_day, standing)
    requests, left_out, at = [], [], {YARD: [branch.latitude, branch.longitude]}
    settled = {visit.request_id for visit in standing}
    offers = _offers(branch)
    for request in _requests(branch, settled):
        mine = offers.get(request.pk, [])
        maker = _RequestDocument(request, rates, visits.get(request.pk), mine)
        windows = maker.windows(first_day, last_day)
        site = request.job.site
        if site.latitude is None or site.longitude is None:
            left_out.append(_left_out(request, "the site has no coordinates"))
        elif not windows:
            left_out.append(_left_out(request, "no window on these days"))
        else:
            at[f"site {site.pk}"] = [site.latitude, site.longitude]
            requests.append(maker.document(windows))
    document = {
        "schema": "service-visits/1",
        "name": f"{first_day} to {last_day}",
        "travel_min": 1,
        "places": list(at),
        "at": at,
        "minutes": [],
        "member_days": [{**day, "day_cost": rates["day_cost"]} for day in days],
        "visits": requests,
    }
    return ServiceBuilt(document, left_out, standing)


def service_hash(document: dict[str, Any]) -> str:
    """Return the SHA-256 of what a plan depends on: places by coordinates, not by minutes."""
    kept = {name: value for name, value in document.items() if name != "minutes"}
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()


def _open_visits(
    branch: Branch, first_day: date, last_day: date
) -> tuple[dict[int, ServiceVisit], tuple[ServiceVisit, ...]]:
    """Return the visits that may move, by request, and those outside these days."""
    movable, standing = {}, []
    rows = ServiceVisit.objects.filter(branch=branch, status__in=OPEN)
    for visit in rows.filter(request__status=R.PLANNED).order_by("pk"):
        if first_day <= visit.date <= last_day:
            movable[visit.request_id] = visit
        else:
            standing.append(visit)
    return movable, tuple(standing)


def _requests(branch: Branch, settled: set[int]) -> list[VisitRequest]:
    rows = VisitRequest.objects.filter(branch=branch, status__in=[R.OPEN, R.PLANNED])
    rows = rows.exclude(pk__in=settled).select_related("job__site")
    return list(rows.prefetch_related("job__blackouts").order_by("pk"))


def _offers(branch: Branch) -> dict[int, list[ServiceWindow]]:
    found: dict[int, list[ServiceWindow]] = {}
    rows = ServiceWindow.objects.filter(branch=branch, request__status__in=[R.OPEN, R.PLANNED])
    for window in rows:
        found.setdefault(window.request_id, []).append(window)
    return found


def _left_out(request: VisitRequest, why: str) -> dict[str, str]:
    return {"request": str(request.pk), "reason": why}


class _RequestDocument:
    """One request as a visit of the document."""

    def __init__(
        self,
        request: VisitRequest,
        rates: dict[str, Any],
        visit: ServiceVisit | None,
        offers: list[ServiceWindow],
    ) -> None:
        self.request, self.rates, self.offers = request, rates, offers
        self.promised = visit if visit and visit.status == ServiceVisit.Status.CONFIRMED else None

    def document(self, windows: list[dict[str, Any]]) -> dict[str, Any]:
        reason = self.request.reason
        missed = int(self.rates["missed"][str(self.request.severity)])
        dearest = max(window["cost"] for window in windows)
        return {
            "id": str(self.request.pk),
            "place": f"site {self.request.job.site_id}",
            "minutes": self._minutes,
            "windows": windows,
            "skills": sorted(self.rates["skills_by_reason"].get(reason, [])),
            # Missing a visit is never cheaper than any of its windows.
            "missed_cost": max(missed, dearest + 1),
        }

    @property
    def _minutes(self) -> int:
        return int(self.rates["minutes_by_reason"].get(self.request.reason, self.rates["minutes"]))

    def windows(self, first_day: date, last_day: date) -> list[dict[str, Any]]:
        """Return the promised time, then what was offered, or the weekdays of the job."""
        changed = int(self.rates["changed_time"]) if self.promised else 0
        found = [
            {**span, "cost": self._lateness(span["day"]) + changed}
            for span in self._offered(first_day, last_day) or self._usual(first_day, last_day)
        ]
        if self.promised is not None:
            start = f"{self.promised.starts:%H:%M}"
            day = self.promised.date.isoformat()
            found.insert(0, {"day": day, "from": start, "to": start, "cost": 0})
        return found[:MOST_WINDOWS]

    def _offered(self, first_day: date, last_day: date) -> list[dict[str, str]]:
        return [
            {
                "day": window.day.isoformat(),
                "from": f"{window.opens:%H:%M}",
                "to": f"{window.closes:%H:%M}",
            }
            for window in self.offers
            if first_day <= window.day <= last_day
        ]

    def _usual(self, first_day: date, last_day: date) -> list[dict[str, str]]:
        """Return a window a day; none where the homeowner offered other days than these."""
        if self.offers:
            return []
        job = self.request.job
        opens, closes = HALF_DAY_HOURS["am"][0], HALF_DAY_HOURS["pm"][1]
        span = {"from": f"{opens:%H:%M}", "to": f"{closes:%H:%M}"}
        days = (first_day + timedelta(days=n) for n in range((last_day - first_day).days + 1))
        return [
            {"day": day.isoformat(), **span}
            for day in days
            if day.weekday() in job.weekdays
            and not any(one.first <= day <= one.last for one in job.blackouts.all())
        ]

    def _lateness(self, day: str) -> int:
        late = (date.fromisoformat(day) - self.request.wanted_by).days
        return max(0, late) * int(self.rates["late_per_day"][str(self.request.severity)])
