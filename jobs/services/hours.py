"""When a message may reach a homeowner: local window, state, the company's own wishes.

``company.settings["sending"]`` may hold ``quiet_on_federal_holidays`` (true or false) and
``windows``: state -> ``{"opens": "09:00", "closes": "20:00", "closed_weekdays": [6]}``, which
stands in place of our table (from memory, confirm) but never outside the federal window.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Any

from contractor.engine.calendars.holiday_proposals import federal_holidays
from contractor.engine.calendars.zones import zone
from contractor.engine.errors import InputError
from contractor.engine.followup.quiet_hours import FEDERAL, SendingWindow, is_allowed, next_allowed
from contractor.engine.followup.state_windows import window_for
from jobs.models import Site

# A hand-over ends within the gateways' time-out; it must not run into the quiet hours.
SENDING_TAKES = timedelta(minutes=1)


def window_of(site: Site) -> SendingWindow:
    """Return the window of the site's state, the company's own where it has one."""
    windows = _wishes(site).get("windows", {})
    own = windows.get(site.state.strip().upper()) if site.state else None
    return _own_window(own) if own else window_for(site.state or None)


def _own_window(own: dict[str, Any]) -> SendingWindow:
    try:
        return SendingWindow(
            max(time.fromisoformat(own["opens"]), FEDERAL.opens),
            min(time.fromisoformat(own["closes"]), FEDERAL.closes),
            frozenset(own.get("closed_weekdays", [])),
            "the company's own window",
        )
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            "bad_window",
            "/settings/sending/windows",
            f"{own!r} is no sending window.",
            'Write it as {"opens": "09:00", "closes": "20:00", "closed_weekdays": [6]}.',
        ) from error


def check_wishes(wishes: Any) -> None:
    """Raise InputError unless ``wishes`` is what ``settings["sending"]`` may hold."""
    if not isinstance(wishes, dict) or not isinstance(wishes.get("windows", {}), dict):
        raise InputError(
            "not_an_object",
            "/",
            "Wishes about sending are an object with an object of windows.",
            'Write {"quiet_on_federal_holidays": true, "windows": {}}.',
        )
    for own in wishes.get("windows", {}).values():
        _own_window(own)


def _wishes(site: Site) -> dict[str, Any]:
    wishes: dict[str, Any] = site.branch.company.settings.get("sending", {})
    return wishes


def quiet_days(site: Site, at: datetime) -> frozenset[date]:
    """Return the local dates without messages around ``at``: none unless the company asks."""
    if not _wishes(site).get("quiet_on_federal_holidays"):
        return frozenset()
    year = at.astimezone(zone(site.time_zone)).year
    return _federal(year) | _federal(year + 1)


@lru_cache(maxsize=16)
def _federal(year: int) -> frozenset[date]:
    return federal_holidays(year, year)


def may_leave(site: Site, at: datetime) -> bool:
    """Whether a message handed over from ``at`` on reaches the homeowner within the window."""
    days, window = quiet_days(site, at), window_of(site)
    return all(
        is_allowed(moment, site.time_zone, window, days) for moment in (at, at + SENDING_TAKES)
    )


def next_leave(site: Site, at: datetime) -> datetime:
    """Return the first instant from ``at`` on at which ``may_leave``."""
    days, window = quiet_days(site, at), window_of(site)
    moment = next_allowed(at, site.time_zone, window, days)
    if is_allowed(moment + SENDING_TAKES, site.time_zone, window, days):
        return moment
    return next_allowed(moment + SENDING_TAKES, site.time_zone, window, days)
