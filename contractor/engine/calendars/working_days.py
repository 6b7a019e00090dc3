"""Working days of a branch: its weekdays, less the holidays it has confirmed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from contractor.engine.errors import InputError

LONGEST_SEARCH = 3660
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class WorkingCalendar:
    """``weekdays`` count Monday as 0; ``extra`` are days worked although they would be free."""

    weekdays: frozenset[int] = frozenset(range(5))
    holidays: frozenset[date] = frozenset()
    extra: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if not self.weekdays or not self.weekdays <= frozenset(range(7)):
            raise InputError(
                "no_working_days",
                "/weekdays",
                "A branch works on at least one weekday, Monday = 0 to Sunday = 6.",
                "List the weekdays.",
            )

    def is_working(self, day: date) -> bool:
        if day in self.extra:
            return True
        return day.weekday() in self.weekdays and day not in self.holidays

    def days(self, first: date, last: date) -> Iterator[date]:
        """Yield the working days from ``first`` to ``last``, both included."""
        for number in range((last - first).days + 1):
            day = first + timedelta(days=number)
            if self.is_working(day):
                yield day

    def count(self, first: date, last: date) -> int:
        return sum(1 for _ in self.days(first, last))

    def on_or_after(self, day: date) -> date:
        return self._walk(day, ONE_DAY, 0)

    def on_or_before(self, day: date) -> date:
        return self._walk(day, -ONE_DAY, 0)

    def add(self, day: date, working_days: int) -> date:
        """Return the working day that many later (earlier when negative) than ``day``.

        ``day`` itself is not counted; 0 gives the first working day on or after it.
        """
        if working_days == 0:
            return self.on_or_after(day)
        step = ONE_DAY if working_days > 0 else -ONE_DAY
        return self._walk(day + step, step, abs(working_days) - 1)

    def _walk(self, day: date, step: timedelta, left: int) -> date:
        idle = 0
        while idle < LONGEST_SEARCH:
            if self.is_working(day):
                if left == 0:
                    return day
                left -= 1
                idle = 0
            idle += 1
            day += step
        raise InputError(
            "no_working_days",
            "/holidays",
            "There is no working day within ten years.",
            "Take holidays out of the list.",
        )
