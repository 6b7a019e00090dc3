"""Documents of movement: ``movement/1`` in, ``movement-verdict/1`` out.

In: ``{"schema": "movement/1", "name": text, "as_of": date or null, "readings": [...],
"policy": {"growth_limit", "confidence"}}``; each reading has ``on`` (ISO date), ``station`` and
``height`` (lengths along and up the wall), exactly one of ``inward`` (towards the room is
positive) and ``crack_width``, and where known ``instrument`` and ``resolution``.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, cast

from contractor.engine.errors import InputError
from contractor.engine.movement.readings import DEFAULT_POLICY, Policy, Quantity, Reading, Series
from contractor.engine.movement.schedule import next_reading
from contractor.engine.movement.trend import LineFit, TheilSen
from contractor.engine.movement.verdict import SeriesVerdict, judge_series, most_serious
from contractor.engine.units import (
    System,
    format_length,
    read_exact_length,
    read_length,
    read_quantity,
    write_quantity,
)

MAX_READINGS = 5000
MAX_READINGS_PER_PLACE = 500
_MAX_VALUE_IN = 36.0
_MEMBERS = {"schema", "name", "as_of", "readings", "policy"}
_READING_MEMBERS = {
    *("on", "station", "height", "inward", "crack_width", "instrument", "resolution"),
}
_QUANTITIES: tuple[Quantity, ...] = ("inward", "crack_width")
WARNING = "Movement is screening, not engineering design; a licensed engineer decides."


@dataclass(frozen=True)
class Case:
    name: str
    as_of: date | None
    policy: Policy
    series: tuple[Series, ...]


def read_case(document: object) -> Case:
    """Read a ``movement/1`` document. Raises InputError with the pointer of what is wrong."""
    members = _object(document, "", _MEMBERS)
    if members.get("schema") != "movement/1":
        raise InputError(
            "wrong_schema", "/schema", "The document is not movement/1.", "Set schema to it."
        )
    rows = members.get("readings")
    if not isinstance(rows, list) or not rows or len(rows) > MAX_READINGS:
        raise InputError(
            "readings_missing",
            "/readings",
            f"A list of 1 to {MAX_READINGS} readings is needed.",
            "Post the readings of this wall, oldest first or in any order.",
        )
    as_of = members.get("as_of")
    return Case(
        name=_text(members.get("name", ""), "/name"),
        as_of=None if as_of is None else _day(as_of, "/as_of"),
        policy=_read_policy(members.get("policy")),
        series=_read_series(rows),
    )


def _read_series(rows: list[Any]) -> tuple[Series, ...]:
    places: dict[tuple[int, int, Quantity], dict[date, Reading]] = defaultdict(dict)
    for i, row in enumerate(rows):
        pointer = f"/readings/{i}"
        place, reading = _read_row(row, pointer)
        if reading.on in places[place]:
            raise InputError(
                "same_day_readings",
                f"{pointer}/on",
                f"Two readings of {reading.on.isoformat()} at the same place: no slope can be "
                "drawn through one day.",
                "Keep one reading a day and place, the one the crew trusts.",
            )
        places[place][reading.on] = reading
        if len(places[place]) > MAX_READINGS_PER_PLACE:
            raise InputError(
                "too_many_readings",
                "/readings",
                f"More than {MAX_READINGS_PER_PLACE} readings at one place.",
                "Post fewer, such as one a week.",
            )
    return tuple(
        Series(
            *(format_length(station), format_length(height), quantity),
            readings=tuple(by_day[day] for day in sorted(by_day)),
        )
        for (station, height, quantity), by_day in sorted(places.items())
    )


def _read_row(row: object, pointer: str) -> tuple[tuple[int, int, Quantity], Reading]:
    members = _object(row, pointer, _READING_MEMBERS)
    given = [q for q in _QUANTITIES if members.get(q) is not None]
    if len(given) != 1:
        raise InputError(
            "reading_without_value",
            pointer,
            "A reading has either inward or crack_width.",
            "Give exactly one of them, as a length.",
        )
    quantity = given[0]
    value = float(read_exact_length(members[quantity], f"{pointer}/{quantity}"))
    if abs(value) > _MAX_VALUE_IN or (quantity == "crack_width" and value < 0):
        raise InputError(
            "reading_out_of_range",
            f"{pointer}/{quantity}",
            f"{value:g} in is no reading of a standing wall.",
            "Check the number and its unit.",
        )
    resolution = members.get("resolution")
    step = None if resolution is None else _step(resolution, f"{pointer}/resolution")
    instrument = members.get("instrument")
    reading = Reading(
        on=_day(members.get("on"), f"{pointer}/on"),
        value_in=value,
        instrument=None if instrument is None else _text(instrument, f"{pointer}/instrument"),
        resolution_in=step,
    )
    station = read_length(members.get("station"), f"{pointer}/station")
    height = read_length(members.get("height"), f"{pointer}/height")
    return (station, height, quantity), reading


def _step(value: object, pointer: str) -> float:
    step = float(read_exact_length(value, pointer))
    if not 0.0 < step <= 1.0:
        raise InputError(
            "resolution_out_of_range",
            pointer,
            f"{step:g} in is no step of a gauge for wall movement.",
            "Give the smallest step it shows, such as 1/16 in.",
        )
    return step


def _read_policy(value: object) -> Policy:
    if value is None:
        return DEFAULT_POLICY
    members = _object(value, "/policy", {"growth_limit", "confidence"})
    policy = DEFAULT_POLICY
    if (limit := members.get("growth_limit")) is not None:
        rate = read_quantity(limit, "in/yr", "/policy/growth_limit")
        if rate <= 0.0:
            raise InputError(
                "growth_limit_not_positive",
                "/policy/growth_limit",
                "The growth limit must be above zero.",
                "The usual value is 0.125 in/yr.",
            )
        policy = replace(policy, growth_limit_in_per_year=rate)
    if (confidence := members.get("confidence")) is not None:
        if isinstance(confidence, bool) or not isinstance(confidence, int | float):
            confidence = 0.0
        if not 0.5 <= confidence <= 0.999:
            raise InputError(
                "confidence_out_of_range",
                "/policy/confidence",
                "The confidence is a number from 0.5 to 0.999.",
                "The usual value is 0.95.",
            )
        policy = replace(policy, confidence=float(confidence))
    return policy


def _object(value: object, pointer: str, allowed: set[str]) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise InputError("not_an_object", pointer, "An object is needed here.", "Post an object.")
    for key in sorted(str(name) for name in value):
        if key not in allowed:
            raise InputError(
                "unknown_member", f"{pointer}/{key}", f"There is no member {key!r}.", "Drop it."
            )
    return cast(dict[str, Any], value)


def _text(value: object, pointer: str) -> str:
    if not isinstance(value, str) or len(value) > 200:
        raise InputError(
            "not_text", pointer, "Text of at most 200 characters is needed.", "Shorten it."
        )
    return value


def _day(value: object, pointer: str) -> date:
    try:
        if isinstance(value, str) and len(value) == 10:
            return date.fromisoformat(value)
    except ValueError:
        pass
    raise InputError("not_a_date", pointer, f"{value!r} is no date.", "Write it as 2026-03-31.")


# ---------------------------------------------------------------- out


def movement_document(document: object, system: System = "us") -> dict[str, Any]:
    """Judge a ``movement/1`` document and return its ``movement-verdict/1`` document."""
    case = read_case(document)
    return write_verdicts(case, [judge_series(s, case.policy) for s in case.series], system)


def write_verdicts(case: Case, verdicts: list[SeriesVerdict], system: System) -> dict[str, Any]:
    leading = most_serious(verdicts)
    dates = [next_reading(v, case.as_of, case.policy) for v in verdicts]
    soonest = min(dates)
    return {
        "schema": "movement-verdict/1",
        "name": case.name,
        "verdict": leading.verdict,
        "reason": f"{leading.series.name}: {leading.reason}",
        "next_reading": {"on": soonest[0].isoformat(), "because": soonest[1]},
        "series": [
            _write_series(v, due, case.policy, system)
            for v, due in zip(verdicts, dates, strict=True)
        ],
        "cautions": [WARNING],
    }


def _write_series(
    verdict: SeriesVerdict, due: tuple[date, str], policy: Policy, system: System
) -> dict[str, Any]:
    series = verdict.series
    return {
        "station": series.station,
        "height": series.height,
        "quantity": series.quantity,
        "readings": [
            {
                "on": reading.on.isoformat(),
                series.quantity: write_quantity(reading.value_in, "in", system),
                "is_outlier": i in verdict.outliers,
                "is_left_out": i in verdict.left_out,
            }
            for i, reading in enumerate(series.readings)
        ],
        "verdict": verdict.verdict,
        "reason": verdict.reason,
        "least_squares": _write_line(verdict.fit, verdict, policy, system),
        "theil_sen": _write_theil_sen(verdict.theil_sen, policy, system),
        "next_reading": {"on": due[0].isoformat(), "because": due[1]},
        "cautions": list(verdict.cautions),
    }


def _write_line(
    fit: LineFit | None, verdict: SeriesVerdict, policy: Policy, system: System
) -> dict[str, Any] | None:
    """Write the line: ``interval`` from the scatter alone, ``interval_with_gauge`` judged by."""
    if fit is None:
        return None
    sd = fit.residual_sd
    return {
        "slope": write_quantity(fit.slope, "in/yr", system),
        "interval": _write_interval(fit.slope_low, fit.slope_high, policy, system),
        "interval_with_gauge": _write_interval(verdict.low, verdict.high, policy, system),
        "at_first_reading": write_quantity(fit.intercept, "in", system),
        "residual_sd": None if sd is None else write_quantity(sd, "in", system),
        "readings_used": fit.count,
        "degrees_of_freedom": fit.df,
    }


def _write_theil_sen(
    line: TheilSen | None, policy: Policy, system: System
) -> dict[str, Any] | None:
    if line is None:
        return None
    return {
        "slope": write_quantity(line.slope, "in/yr", system),
        "interval": _write_interval(line.slope_low, line.slope_high, policy, system),
    }


def _write_interval(
    low: float | None, high: float | None, policy: Policy, system: System
) -> dict[str, Any] | None:
    if low is None or high is None:
        return None
    return {
        "low": write_quantity(low, "in/yr", system),
        "high": write_quantity(high, "in/yr", system),
        "confidence": policy.confidence,
    }
