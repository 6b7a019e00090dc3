"""Readings that are hard to believe: asked back, kept to be confirmed, never silently used."""

from __future__ import annotations

from datetime import date

from contractor.errors import InvalidValueError
from jobs.models import InstallRecord, Job, Reading, Site

# Common practice: no braced wall moves three inches between two readings, and a number ten
# times (or a tenth of) the last one is a slip of the unit or of the finger.
MOST_JUMP_TICKS = 3 * 64
TIMES = 10
LEAST_TICKS = 4  # 1/16 in: below it "ten times" says nothing
SLIP_TICKS = 32  # 1/2 in
MOST_TICKS = 36 * 64


def require_possible(reading: Reading) -> None:
    """Refuse what no standing wall shows."""
    if reading.value_ticks is not None and abs(reading.value_ticks) > MOST_TICKS:
        raise InvalidValueError(
            "A standing wall does not bow by more than 36 in.", remedy="Check number and unit."
        )
    if reading.kind == Reading.Kind.CRACK and (reading.value_ticks or 0) < 0:
        raise InvalidValueError("A crack has no negative width.", remedy="Check the number.")


def doubt_about(site: Site, reading: Reading) -> str:
    """Return why a reading is hard to believe, "" where it is not.

    The office may enter what was measured before the install; for everybody else such a date
    is a slip.
    """
    begun = _installed_on(site, reading.wall) if reading.source != "office" else None
    if begun is not None and reading.measured_on < begun:
        return f"before the install of {begun}"
    if reading.kind == Reading.Kind.TORQUE:
        return ""
    last = _last_at(site, reading)
    return "" if last is None else _doubt_beside(reading.value_ticks or 0, last)


def _installed_on(site: Site, wall: str) -> date | None:
    live = (Job.Status.INSTALLED, Job.Status.CLOSED, Job.Status.INSTALLING)
    records = InstallRecord.objects.filter(
        job__site=site, job__walls__wall=wall, job__status__in=live
    )
    return records.order_by("-pk").values_list("started_on", flat=True).first()


def _last_at(site: Site, reading: Reading) -> int | None:
    earlier = site.readings.filter(
        wall=reading.wall,
        kind=reading.kind,
        at_ticks=reading.at_ticks,
        height_ticks=reading.height_ticks,
        doubt="",
        measured_on__lt=reading.measured_on,
    )
    return earlier.order_by("-measured_on").values_list("value_ticks", flat=True).first()


def _doubt_beside(value: int, last: int) -> str:
    jump = abs(value - last)
    if jump > MOST_JUMP_TICKS:
        return "more than 3 in away from the last reading"
    if jump <= SLIP_TICKS:
        return ""
    if abs(value) >= TIMES * max(abs(last), LEAST_TICKS):
        return "ten times the last reading or more"
    if abs(last) >= TIMES * max(abs(value), LEAST_TICKS):
        return "a tenth of the last reading or less"
    return ""
