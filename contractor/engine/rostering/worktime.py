"""Working days and half-days: which there are, and how many lie between two dates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

DAYS_PER_WEEK = 7


@dataclass(frozen=True)
class WorkCalendar:
    """Working days from ``first_day`` through ``last_day``, numbered from 0.

    Half-day ``2 * i`` is the morning of day ``i``, ``2 * i + 1`` its afternoon. Counting
    works outside the horizon too, by the same weekdays and holidays.
    """

    first_day: date
    last_day: date
    workdays: frozenset[int]
    holidays: frozenset[date]

    def is_working(self, day: date) -> bool:
        return day.weekday() in self.workdays and day not in self.holidays

    @cached_property
    def days(self) -> tuple[date, ...]:
        """The working days of the horizon, in order."""
        span = (self.last_day - self.first_day).days + 1
        every = (self.first_day + timedelta(days=i) for i in range(span))
        return tuple(day for day in every if self.is_working(day))

    @cached_property
    def index_of(self) -> dict[date, int]:
        return {day: i for i, day in enumerate(self.days)}

    @cached_property
    def _off_workdays(self) -> tuple[date, ...]:
        return tuple(sorted(day for day in self.holidays if day.weekday() in self.workdays))

    def _workdays_until(self, end: date) -> int:
        """Working days strictly before ``end``, counted from a fixed Monday; any date."""
        weeks, rest = divmod(end.toordinal() - 1, DAYS_PER_WEEK)  # ordinal 1 was a Monday
        count = weeks * len(self.workdays) + sum(1 for day in self.workdays if day < rest)
        return count - sum(1 for day in self._off_workdays if day < end)

    def position(self, day: date) -> int:
        """Working days from ``first_day`` up to but not including ``day``; may be negative."""
        return self._workdays_until(day) - self._workdays_until(self.first_day)

    def halfdays_through(self, day: date) -> int:
        """Working half-days from the start of the horizon to the end of ``day``.

        Negative for a day before the horizon: minus the working half-days in between.
        """
        return 2 * self.position(day + timedelta(days=1))

    @property
    def halfdays(self) -> int:
        """Working half-days in the horizon."""
        return 2 * len(self.days)
