"""Outside calendars as half-days away (RFC 5545: exclusive DTEND, transparent, floating, DST)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from contractor.api.models import Branch
from contractor.crews.models import Absence, Crew, Member
from contractor.crews.services.busy import Away, busy_days, import_busy
from contractor.engine.errors import InputError
from contractor.errors import InvalidValueError

FIRST, LAST = date(2026, 3, 2), date(2026, 3, 13)


def day(year: int, month: int, number: int, half: str) -> Away:
    return Away(date(year, month, number), date(year, month, number), half)


def calendar(*events: str) -> str:
    bodies = "".join(
        f"BEGIN:VEVENT\r\nUID:{number}@example.org\r\nDTSTAMP:20260101T000000Z\r\n{lines}\r\n"
        "END:VEVENT\r\n"
        for number, lines in enumerate(events)
    )
    head = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//example.org//x//EN\r\n"
    return f"{head}{bodies}END:VCALENDAR\r\n"


@pytest.mark.parametrize(
    ("lines", "away"),
    [
        # DTEND of whole days is not included (RFC 5545, 3.6.1).
        (
            "DTSTART;VALUE=DATE:20260303\r\nDTEND;VALUE=DATE:20260305",
            [Away(date(2026, 3, 3), date(2026, 3, 4), "")],
        ),
        ("DTSTART:20260303T090000\r\nDTEND:20260303T093000", [day(2026, 3, 3, "am")]),
        ("DTSTART:20260303T120000\r\nDTEND:20260303T123000", []),
        ("DTSTART:20260303T190000\r\nDTEND:20260303T210000", []),
        ("DTSTART:20260303T110000\r\nDTEND:20260303T130000", [day(2026, 3, 3, "")]),
        # 17:00 UTC is noon before the change of 8 March 2026 and 13:00 after it.
        ("DTSTART:20260303T170000Z\r\nDTEND:20260303T172500Z", []),
        (
            "DTSTART:20260309T170000Z\r\nDTEND:20260309T172500Z",
            [day(2026, 3, 9, "pm")],
        ),
        ("DTSTART:20260303T090000\r\nDTEND:20260303T093000\r\nTRANSP:TRANSPARENT", []),
        ("DTSTART:20260303T090000\r\nDTEND:20260303T093000\r\nSTATUS:CANCELLED", []),
        (
            "DTSTART:20260303T090000\r\nDTEND:20260303T093000\r\nRRULE:FREQ=WEEKLY",
            [day(2026, 3, 3, "am"), day(2026, 3, 10, "am")],
        ),
    ],
)
def test_half_days_taken(lines: str, away: list[Away]) -> None:
    found = busy_days(calendar(lines), zone_name="America/New_York", first=FIRST, last=LAST)
    assert list(found.away) == away


def test_too_many_days_are_refused() -> None:
    with pytest.raises(InvalidValueError):
        busy_days(calendar(), zone_name="UTC", first=FIRST, last=date(2028, 3, 1))


@pytest.mark.django_db(transaction=True)
def test_reading_again_replaces_what_came_from_there(
    yard: Branch, make_crew: Callable[..., Crew]
) -> None:
    make_crew("A", people=1)
    member = Member.objects.get()
    typed = Absence.objects.create(branch=yard, member=member, first=FIRST, last=FIRST)

    def read(text: str) -> list[Absence]:
        return import_busy(member.pk, text, source="own", first=FIRST, last=LAST)

    one = calendar("DTSTART;VALUE=DATE:20260304\r\nDTEND;VALUE=DATE:20260305")
    [before] = read(one)
    two = calendar("DTSTART;VALUE=DATE:20260305\r\nDTEND;VALUE=DATE:20260306")
    [after] = read(two)
    assert set(Absence.objects.all()) == {typed, after}
    assert before.first == date(2026, 3, 4)
    with pytest.raises(InputError):
        read("not a calendar")
    assert set(Absence.objects.all()) == {typed, after}
