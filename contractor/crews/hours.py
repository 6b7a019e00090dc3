"""When a half-day starts and ends on the wall clock of the branch (common practice)."""

from __future__ import annotations

from datetime import time

HALF_DAY_HOURS = {"am": (time(8), time(12)), "pm": (time(12, 30), time(16, 30))}


def halves_touched(start: time, end: time) -> list[str]:
    """Return the half-days that a stay from ``start`` to ``end`` takes something of.

    Before eight belongs to the morning, after half past four to the afternoon, and the noon
    break to neither.
    """
    found = []
    if start < HALF_DAY_HOURS["am"][1]:
        found.append("am")
    if end > HALF_DAY_HOURS["pm"][0]:
        found.append("pm")
    return found
