"""State rules that are narrower than the federal window of 47 CFR 64.1200(c)(1).

Every entry is from memory, confirm: counsel decides what applies to a company's messages, and
the company edits the table. Only states that end before 9 p.m., start after 8 a.m. or close a
weekday are listed; the rest have the federal window. Where the hours differ by weekday, the
narrowest stand for all days.
"""

from __future__ import annotations

from datetime import time

from contractor.engine.followup.quiet_hours import FEDERAL, SendingWindow

SUNDAY = 6
BASIS = "state telephone solicitation law; from memory, confirm"


def _window(opens: int, closes: int, *closed: int) -> SendingWindow:
    return SendingWindow(time(opens), time(closes), frozenset(closed), BASIS)


STATE_WINDOWS: dict[str, SendingWindow] = {
    "AL": _window(8, 20, SUNDAY),
    "CT": _window(9, 20),
    "FL": _window(8, 20),
    "KY": _window(10, 21),
    "LA": _window(8, 20, SUNDAY),
    "MA": _window(8, 20),
    "MD": _window(8, 20),
    "MN": _window(9, 21),
    "MS": _window(8, 20, SUNDAY),
    "NM": _window(9, 21),
    "NV": _window(9, 20),
    "OK": _window(8, 20),
    "RI": _window(10, 17, SUNDAY),
    "SD": _window(9, 21, SUNDAY),
    "TX": _window(12, 21),
    "UT": _window(8, 21, SUNDAY),
    "WA": _window(8, 20),
    "WY": _window(8, 20),
}


def window_for(state: str | None) -> SendingWindow:
    """Return the sending window of a US state by its two-letter code; else the federal one."""
    return STATE_WINDOWS.get((state or "").strip().upper(), FEDERAL)
