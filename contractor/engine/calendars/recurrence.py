"""Recurrence rules of RFC 5545 section 3.3.10, expanded between two dates and never further.

Yearly to daily rules with BYMONTH, BYMONTHDAY, BYYEARDAY, BYDAY, BYHOUR, BYMINUTE, BYSECOND and
BYSETPOS. Hourly and finer rules and BYWEEKNO are refused with ``RuleNotReadError``; work is
bounded by a budget of days looked at, so that a posted calendar cannot keep us busy.
"""

from __future__ import annotations

from calendar import isleap, monthrange
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import product

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
DAYS_OF = {"DAILY": 1, "WEEKLY": 7}
LAST_YEAR = 9998


class RuleNotReadError(ValueError):
    """A recurrence rule that is malformed or of a kind that is not expanded here."""


class BudgetSpentError(ValueError):
    """The rules of one calendar ask for more days than we are ready to look at."""


@dataclass
class Budget:
    """Days that may still be looked at while one calendar is read."""

    days: int = 300_000

    def spend(self, days: int) -> None:
        self.days -= days
        if self.days < 0:
            raise BudgetSpentError("too many recurring days")


@dataclass(frozen=True)
class Rule:
    """A parsed RRULE; empty tuples mean that the part is absent. Weekdays: Monday = 0."""

    freq: str
    interval: int = 1
    count: int | None = None
    until: datetime | date | None = None
    months: tuple[int, ...] = ()
    month_days: tuple[int, ...] = ()
    year_days: tuple[int, ...] = ()
    weekdays: tuple[tuple[int, int], ...] = ()
    hours: tuple[int, ...] = ()
    minutes: tuple[int, ...] = ()
    seconds: tuple[int, ...] = ()
    positions: tuple[int, ...] = ()
    week_start: int = 0


_NUMBER_PARTS = {
    "BYMONTH": ("months", 1, 12),
    "BYMONTHDAY": ("month_days", -31, 31),
    "BYYEARDAY": ("year_days", -366, 366),
    "BYHOUR": ("hours", 0, 23),
    "BYMINUTE": ("minutes", 0, 59),
    "BYSECOND": ("seconds", 0, 59),
    "BYSETPOS": ("positions", -366, 366),
}


def read_rule(text: str) -> Rule:
    """Return the rule of an RRULE value such as ``FREQ=MONTHLY;BYDAY=-1FR``."""
    parts: dict[str, str] = {}
    for part in text.strip().upper().split(";"):
        name, _, value = part.partition("=")
        if not value or name in parts:
            raise RuleNotReadError(f"{part!r} is no part of a recurrence rule")
        parts[name] = value
    values: dict[str, object] = {"freq": parts.pop("FREQ", "")}
    if values["freq"] not in ("DAILY", "WEEKLY", "MONTHLY", "YEARLY"):
        raise RuleNotReadError(f"FREQ={values['freq']} is not expanded")
    for name, value in parts.items():
        if name in _NUMBER_PARTS:
            field, least, most = _NUMBER_PARTS[name]
            values[field] = tuple(_whole(item, least, most) for item in value.split(","))
        elif name in ("INTERVAL", "COUNT"):
            values[name.lower()] = _whole(value, 1, 100_000)
        elif name == "BYDAY":
            values["weekdays"] = tuple(_weekday(item) for item in value.split(","))
        elif name == "WKST":
            values["week_start"] = _weekday(value)[1]
        elif name == "UNTIL":
            values["until"] = _until(value)
        else:
            raise RuleNotReadError(f"{name} is not expanded")
    rule = Rule(**values)  # type: ignore[arg-type]
    return _with_nth_allowed(rule)


def _with_nth_allowed(rule: Rule) -> Rule:
    if any(nth for nth, _ in rule.weekdays) and rule.freq not in ("MONTHLY", "YEARLY"):
        raise RuleNotReadError("BYDAY with a number belongs to monthly and yearly rules")
    return rule


def _whole(text: str, least: int, most: int) -> int:
    try:
        number = int(text)
    except ValueError as error:
        raise RuleNotReadError(f"{text!r} is no whole number") from error
    if not least <= number <= most or (number == 0 and least < 0):
        raise RuleNotReadError(f"{number} is outside {least} to {most}")
    return number


def _weekday(text: str) -> tuple[int, int]:
    if text[-2:] not in WEEKDAYS:
        raise RuleNotReadError(f"{text!r} is no weekday")
    nth = _whole(text[:-2], -53, 53) if text[:-2] else 0
    return nth, WEEKDAYS.index(text[-2:])


def _until(text: str) -> datetime | date:
    try:
        if "T" not in text:
            return datetime.strptime(text, "%Y%m%d").date()  # noqa: DTZ007
        moment = datetime.strptime(text.removesuffix("Z"), "%Y%m%dT%H%M%S")  # noqa: DTZ007
    except ValueError as error:
        raise RuleNotReadError(f"UNTIL={text} is no date") from error
    return moment.replace(tzinfo=UTC) if text.endswith("Z") else moment


def occurrences(
    start: datetime,
    rule: Rule,
    *,
    first: date,
    last: date,
    to_utc: Callable[[datetime], datetime | None],
    budget: Budget,
) -> Iterator[datetime]:
    """Yield the wall-clock starts of ``rule`` from ``start`` (naive) up to the end of ``last``.

    ``start`` always counts as the first one. Those before ``first`` may be left out.
    ``to_utc`` gives the instant of a wall-clock time, None where clocks jump over it: "such
    recurrence instances MUST be ignored and MUST NOT be counted" (3.3.10).
    """
    left = rule.count if rule.count is not None else -1
    for moment in _candidates(start, rule, first, last, budget):
        instant = to_utc(moment)
        if instant is None:
            continue
        if left == 0 or _is_past(moment, instant, rule.until):
            return
        left -= 1
        yield moment


def _is_past(moment: datetime, instant: datetime, until: datetime | date | None) -> bool:
    if until is None:
        return False
    if not isinstance(until, datetime):
        return moment.date() > until
    return (instant if until.tzinfo else moment) > until


def _candidates(
    start: datetime, rule: Rule, first: date, last: date, budget: Budget
) -> Iterator[datetime]:
    if start.date() > last:
        return
    yield start
    times = _times(start, rule)
    for days in _periods(start.date(), rule, first, last, budget):
        chosen = [day for day in days if _matches(day, rule, start.date())]
        moments = [datetime.combine(day, at) for day in chosen for at in times]
        if rule.positions:
            moments = _at_positions(moments, rule.positions)
        yield from (one for one in moments if one > start and one.date() <= last)


def _at_positions(moments: list[datetime], positions: tuple[int, ...]) -> list[datetime]:
    size = len(moments)
    places = {p - 1 if p > 0 else size + p for p in positions if 1 <= abs(p) <= size}
    return [moments[place] for place in sorted(places)]


def _times(start: datetime, rule: Rule) -> list[time]:
    return sorted(
        time(hour, minute, second)
        for hour, minute, second in product(
            set(rule.hours or (start.hour,)),
            set(rule.minutes or (start.minute,)),
            set(rule.seconds or (start.second,)),
        )
    )


def _periods(
    start: date, rule: Rule, first: date, last: date, budget: Budget
) -> Iterator[list[date]]:
    """Yield the days of each period of the rule, in order, from the one ``start`` lies in."""
    # Without a count, nothing before the wanted days matters.
    begin = start if rule.count is not None else max(start, first)
    if rule.freq in DAYS_OF:
        size = DAYS_OF[rule.freq]
        step = size * rule.interval
        origin = start
        if rule.freq == "WEEKLY":
            origin -= timedelta(days=(start.weekday() - rule.week_start) % 7)
        place = max((begin - origin).days // step, 0) * step
        while (day := origin + timedelta(days=place)) <= last:
            budget.spend(size)
            yield [day + timedelta(days=n) for n in range(size)]
            place += step
        return
    months = 12 if rule.freq == "YEARLY" else 1
    step = months * rule.interval
    origin_month = start.year * 12 + (start.month - 1 if months == 1 else 0)
    place = max((begin.year * 12 + begin.month - 1 - origin_month) // step, 0) * step
    while (month := origin_month + place) <= last.year * 12 + last.month - 1:
        budget.spend(months * 31)
        yield [day for n in range(month, month + months) for day in _days_of_month(n)]
        place += step


def _days_of_month(month: int) -> list[date]:
    year, index = divmod(month, 12)
    if year > LAST_YEAR:
        return []
    return [date(year, index + 1, n + 1) for n in range(monthrange(year, index + 1)[1])]


def _matches(day: date, rule: Rule, start: date) -> bool:
    """Whether ``day`` passes every BY part; what the rule leaves open comes from ``start``."""
    if rule.months and day.month not in rule.months:
        return False
    length = monthrange(day.year, day.month)[1]
    if rule.month_days and not {day.day, day.day - length - 1} & set(rule.month_days):
        return False
    if rule.year_days:
        number, size = day.timetuple().tm_yday, 366 if isleap(day.year) else 365
        if not {number, number - size - 1} & set(rule.year_days):
            return False
    if rule.weekdays:
        return any(_is_nth(day, nth, weekday, rule) for nth, weekday in rule.weekdays)
    if rule.month_days or rule.year_days or rule.freq == "DAILY":
        return True
    if rule.freq == "WEEKLY":
        return day.weekday() == start.weekday()
    return day.day == start.day and (
        rule.freq == "MONTHLY" or bool(rule.months) or day.month == start.month
    )


def _is_nth(day: date, nth: int, weekday: int, rule: Rule) -> bool:
    """Whether ``day`` is the nth such weekday of its month, or of its year (3.3.10, BYDAY)."""
    if day.weekday() != weekday:
        return False
    if nth == 0:
        return True
    if rule.freq == "MONTHLY" or rule.months:
        place, size = day.day, monthrange(day.year, day.month)[1]
    else:
        place, size = day.timetuple().tm_yday, 366 if isleap(day.year) else 365
    return nth == ((place - 1) // 7 + 1 if nth > 0 else -((size - place) // 7 + 1))
