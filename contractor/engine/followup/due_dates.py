"""Dates on which a homeowner is asked to re-tighten and measure, each with its reason."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from contractor.engine.followup.policy import FollowUpPolicy, Season

ReasonCode = Literal["months_after_install", "season", "end_of_follow_up", "wall_moves"]


@dataclass(frozen=True)
class DueReason:
    code: ReasonCode
    text: str


@dataclass(frozen=True)
class DueDate:
    """One date to re-tighten and measure; the same day may have several reasons."""

    on: date
    reasons: tuple[DueReason, ...]


def add_months(day: date, months: int) -> date:
    """Return ``day`` moved by ``months``, or the last day of a month that is too short.

    31 August + 6 months is 28 or 29 February. Always count from the first date: adding one
    month six times would lose the 31st on the way.
    """
    total = day.year * 12 + day.month - 1 + months
    year, month = divmod(total, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def due_dates(installed: date, policy: FollowUpPolicy) -> tuple[DueDate, ...]:
    """Return every due date of ``policy`` after ``installed``, in order of date."""
    end = add_months(installed, policy.end_months)
    reasons: dict[date, list[DueReason]] = {}
    for months in sorted(policy.month_offsets):
        if months <= policy.end_months:
            reasons.setdefault(add_months(installed, months), []).append(_after_install(months))
    reasons.setdefault(end, []).append(
        DueReason("end_of_follow_up", "the last check of the follow-up")
    )
    for day, season in _season_days(installed, end, policy.seasons):
        place = _place_for(day, reasons, installed, policy.merge_days)
        if place is not None:
            reasons.setdefault(place, []).append(DueReason("season", season.name))
    return tuple(DueDate(day, tuple(reasons[day])) for day in sorted(reasons))


def next_due(installed: date, policy: FollowUpPolicy, after: date) -> DueDate | None:
    """Return the first due date later than ``after``, or None once the follow-up has ended."""
    return next((due for due in due_dates(installed, policy) if due.on > after), None)


def extra_reading(last_reading: date, policy: FollowUpPolicy) -> DueDate:
    """Return when a wall that moves is to be read again, whatever the end of the follow-up."""
    days = policy.moving_interval_days
    return DueDate(
        last_reading + timedelta(days=days),
        (DueReason("wall_moves", f"the wall moves: a reading every {days} days"),),
    )


def _after_install(months: int) -> DueReason:
    noun = "month" if months == 1 else "months"
    return DueReason("months_after_install", f"{months} {noun} after the install")


def _season_days(
    installed: date, end: date, seasons: tuple[Season, ...]
) -> list[tuple[date, Season]]:
    days = []
    for year in range(installed.year, end.year + 1):
        for season in seasons:
            last = monthrange(year, season.month)[1]
            day = date(year, season.month, min(season.day, last))
            if installed < day <= end:
                days.append((day, season))
    return sorted(days, key=lambda pair: (pair[0], pair[1].name))


def _place_for(
    day: date, taken: dict[date, list[DueReason]], installed: date, merge_days: int
) -> date | None:
    """Return the date a season check falls on; None so soon after the install that it is moot."""
    if (day - installed).days <= merge_days:
        return None
    near = [other for other in taken if abs((other - day).days) <= merge_days]
    return min(near, key=lambda other: (abs((other - day).days), other), default=day)
