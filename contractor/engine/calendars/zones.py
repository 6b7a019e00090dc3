"""Wall-clock times in an IANA zone, with the two days a year that have 23 or 25 hours.

RFC 5545 section 3.3.5 (DATE-TIME, form 3): a local time that occurs twice means its first
occurrence; one that does not occur is read with the offset before the gap.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from contractor.engine.errors import InputError


@lru_cache(maxsize=256)
def zone(name: str, pointer: str = "/zone") -> ZoneInfo:
    """Return the IANA zone ``name``; InputError ``unknown_zone`` when there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise InputError(
            "unknown_zone",
            pointer,
            f"{name!r} is no time zone of the IANA database.",
            "Give a name such as America/Chicago.",
        ) from error


def local_to_utc(local: datetime, where: ZoneInfo) -> datetime:
    """Return the UTC instant of the naive wall-clock time ``local`` (RFC 5545, 3.3.5)."""
    return local.replace(tzinfo=where, fold=0).astimezone(UTC)


def is_in_gap(local: datetime, where: ZoneInfo) -> bool:
    """Whether clocks in ``where`` jump over the naive wall-clock time ``local``."""
    return local_to_utc(local, where).astimezone(where).replace(tzinfo=None) != local


def first_instant_from(day: date, at: time, where: ZoneInfo) -> datetime:
    """Return the first UTC instant at which clocks in ``where`` show ``day`` ``at`` or later.

    Inside a gap this is the moment of the jump, so 02:30 on a spring-forward night is the
    instant that shows 03:00.
    """
    local = datetime.combine(day, at)
    if not is_in_gap(local, where):
        return local_to_utc(local, where)
    # In a gap fold=1 lies before the jump and fold=0 after it.
    before = int(local.replace(tzinfo=where, fold=1).timestamp())
    after = int(local.replace(tzinfo=where, fold=0).timestamp())
    offset_before = datetime.fromtimestamp(before, where).utcoffset()
    while after - before > 1:
        middle = (before + after) // 2
        if datetime.fromtimestamp(middle, where).utcoffset() == offset_before:
            before = middle
        else:
            after = middle
    return datetime.fromtimestamp(after, UTC)


def day_bounds(first: date, last: date, where: ZoneInfo) -> tuple[datetime, datetime]:
    """Return the UTC instants at which ``first`` begins and ``last`` (inclusive) ends."""
    midnight = time(0)
    return (
        first_instant_from(first, midnight, where),
        first_instant_from(last + timedelta(days=1), midnight, where),
    )


def require_aware(at: datetime, pointer: str) -> datetime:
    """Return ``at``; InputError ``time_without_offset`` when it has no UTC offset (RFC 3339)."""
    if at.utcoffset() is None:
        raise InputError(
            "time_without_offset",
            pointer,
            "A point in time needs its UTC offset.",
            "Write it as in 2026-03-08T12:30:00Z.",
        )
    return at
