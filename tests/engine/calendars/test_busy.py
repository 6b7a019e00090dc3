"""Busy times of an outside calendar; the expected answer is named beside each case."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.calendars.busy import BusyReading, read_busy
from contractor.engine.errors import InputError

HEAD = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//example.org//test//EN\r\n"
TAIL = "END:VCALENDAR\r\n"
NEW_YORK = "TZID=America/New_York"


def event(*lines: str, uid: str = "a@example.org") -> str:
    body = "\r\n".join((f"UID:{uid}", "DTSTAMP:20260101T000000Z", *lines))
    return f"BEGIN:VEVENT\r\n{body}\r\nEND:VEVENT\r\n"


def read(
    *components: str,
    first: str = "2026-01-01",
    last: str = "2026-12-31",
    zone: str = "America/New_York",
    head: str = HEAD,
) -> BusyReading:
    return read_busy(
        head + "".join(components) + TAIL,
        zone_name=zone,
        first=date.fromisoformat(first),
        last=date.fromisoformat(last),
    )


def spans(reading: BusyReading) -> list[tuple[str, str]]:
    return [(f"{one.start:%m-%dT%H:%M}", f"{one.end:%m-%dT%H:%M}") for one in reading.busy]


# RFC 5545, 3.3.6: days are nominal ("depends on its position in the calendar"), hours exact.
# Clocks go forward on 2026-03-08 and back on 2026-11-01 (15 U.S.C. 260a).
@pytest.mark.parametrize(
    ("start", "duration", "expected"),
    [
        ("20260307T120000", "P1D", ("03-07T17:00", "03-08T16:00")),  # 23 hours
        ("20260307T120000", "PT24H", ("03-07T17:00", "03-08T17:00")),  # 24 hours
        ("20260307T120000", "P1DT2H", ("03-07T17:00", "03-08T18:00")),  # days first, then hours
        ("20261031T120000", "P1D", ("10-31T16:00", "11-01T17:00")),  # 25 hours
        ("20261031T120000", "PT24H", ("10-31T16:00", "11-01T16:00")),
        ("20260303T120000", "P1W", ("03-03T17:00", "03-10T16:00")),
        ("20260307T120000", "+PT90M", ("03-07T17:00", "03-07T18:30")),
    ],
)
def test_day_durations_are_nominal_and_hours_exact(
    start: str, duration: str, expected: tuple[str, str]
) -> None:
    text = event(f"DTSTART;{NEW_YORK}:{start}", f"DURATION:{duration}")
    assert spans(read(text)) == [expected]


def test_the_duration_of_an_alarm_is_not_that_of_the_event() -> None:
    """RFC 5545, 3.6.6: an alarm inside an event has a DURATION of its own."""
    alarm = "BEGIN:VALARM\r\nACTION:AUDIO\r\nTRIGGER:-PT5M\r\nDURATION:PT15M\r\nREPEAT:2\r\n"
    text = event(f"DTSTART;{NEW_YORK}:20260601T090000", "DURATION:PT2H", alarm + "END:VALARM")
    assert spans(read(text)) == [("06-01T13:00", "06-01T15:00")]


def test_a_recurring_dtend_keeps_exact_length_and_duration_nominal() -> None:
    """RFC 5545, 3.8.5.3: with DTEND 'the same exact duration', with DURATION the nominal one."""
    rule = "RRULE:FREQ=DAILY;COUNT=2"
    by_end = event(f"DTSTART;{NEW_YORK}:20260306T180000", f"DTEND;{NEW_YORK}:20260307T180000", rule)
    assert spans(read(by_end))[1] == ("03-07T23:00", "03-08T23:00")
    by_duration = event(f"DTSTART;{NEW_YORK}:20260306T180000", "DURATION:P1D", rule)
    assert spans(read(by_duration))[1] == ("03-07T23:00", "03-08T22:00")


def test_a_weekly_event_keeps_its_wall_clock_over_the_switch() -> None:
    """RFC 5545, 3.8.5.3: 9:00 AM EST before, 9:00 AM EDT after."""
    text = event(
        f"DTSTART;{NEW_YORK}:20260302T090000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=3"
    )
    assert [start for start, _ in spans(read(text))] == [
        "03-02T14:00",
        "03-09T13:00",
        "03-16T13:00",
    ]


def test_all_day_dtend_is_exclusive() -> None:
    """RFC 5545, 3.6.1: DTSTART;VALUE=DATE:20070628, DTEND:20070709 lasts to 8 July inclusive."""
    text = event("DTSTART;VALUE=DATE:20070628", "DTEND;VALUE=DATE:20070709")
    reading = read(text, first="2007-01-01", last="2007-12-31", zone="UTC")
    assert spans(reading) == [("06-28T00:00", "07-09T00:00")]
    assert reading.busy[0].is_all_day
    after = read(text, first="2007-07-09", last="2007-07-09", zone="UTC")
    assert after.busy == ()


def test_an_all_day_event_without_end_lasts_its_day_of_23_hours() -> None:
    """RFC 5545, 3.6.1: DATE without DTEND 'ends on the same calendar date'."""
    assert spans(read(event("DTSTART;VALUE=DATE:20260308"))) == [("03-08T05:00", "03-09T04:00")]


def test_a_time_without_end_blocks_nothing() -> None:
    """RFC 5545, 3.6.1: DATE-TIME without DTEND 'ends on the same calendar date and time of day'."""
    assert read(event("DTSTART:20260308T120000Z")).busy == ()


def test_a_floating_time_is_the_branch_zone() -> None:
    """RFC 5545, 3.3.5, form 1: local time is not bound to a zone; the branch's is taken."""
    text = event("DTSTART:20260601T080000", "DTEND:20260601T120000")
    assert spans(read(text, zone="America/Phoenix")) == [("06-01T15:00", "06-01T19:00")]
    assert spans(read(text, zone="America/New_York")) == [("06-01T12:00", "06-01T16:00")]


def test_a_floating_time_that_occurs_twice_is_the_first() -> None:
    """RFC 5545, 3.3.5: 1:30 on 2007-11-04 in New York is 1:30 EDT (UTC-04:00)."""
    text = event("DTSTART:20071104T013000", "DURATION:PT1H")
    reading = read(text, first="2007-11-01", last="2007-11-30")
    assert spans(reading) == [("11-04T05:30", "11-04T06:30")]


def test_cancelled_and_transparent_events_are_free_and_tentative_ones_busy() -> None:
    """RFC 5545, 3.8.1.11 STATUS and 3.8.2.7 TRANSP."""
    times = ("DTSTART:20260601T120000Z", "DTEND:20260601T130000Z")
    assert read(event(*times, "STATUS:CANCELLED")).busy == ()
    assert read(event(*times, "TRANSP:TRANSPARENT")).busy == ()
    assert read(event(*times), head=HEAD + "METHOD:CANCEL\r\n").busy == ()
    assert len(read(event(*times, "STATUS:TENTATIVE", "TRANSP:OPAQUE")).busy) == 1


def test_the_last_revision_of_an_event_counts() -> None:
    """RFC 5546, 2.1.5: the greater SEQUENCE, then the later DTSTAMP."""
    old = event("DTSTART:20260601T120000Z", "DTEND:20260601T130000Z", "SEQUENCE:1")
    new = event("DTSTART:20260602T120000Z", "DTEND:20260602T130000Z", "SEQUENCE:2")
    assert spans(read(new, old)) == [("06-02T12:00", "06-02T13:00")]


def test_one_moved_and_one_excluded_instance() -> None:
    """RFC 5545, 3.8.4.4 RECURRENCE-ID and 3.8.5.1 EXDATE."""
    series = event(
        f"DTSTART;{NEW_YORK}:20260601T090000",
        "DURATION:PT1H",
        "RRULE:FREQ=DAILY;COUNT=4",
        f"EXDATE;{NEW_YORK}:20260602T090000",
    )
    moved = event(
        f"RECURRENCE-ID;{NEW_YORK}:20260603T090000",
        f"DTSTART;{NEW_YORK}:20260605T100000",
        "DURATION:PT1H",
    )
    called_off = event(
        f"RECURRENCE-ID;{NEW_YORK}:20260604T090000",
        f"DTSTART;{NEW_YORK}:20260604T090000",
        "DURATION:PT1H",
        "STATUS:CANCELLED",
    )
    assert [start for start, _ in spans(read(series, moved, called_off))] == [
        "06-01T13:00",
        "06-05T14:00",
    ]


def test_additional_dates_count_once() -> None:
    """RFC 5545, 3.8.5.2 RDATE; 3.8.5.3: 'duplicate instances are ignored'."""
    text = event(
        "DTSTART:20260601T120000Z",
        "DURATION:PT1H",
        "RDATE:20260610T120000Z,20260601T120000Z",
        "RRULE:FREQ=DAILY;COUNT=2",
    )
    assert [start for start, _ in spans(read(text))] == [
        "06-01T12:00", "06-02T12:00", "06-10T12:00",
    ]  # fmt: skip


def test_a_zone_that_only_the_calendar_defines() -> None:
    """RFC 5545, 3.6.5, the New York rules of its example under a name of our own."""
    definition = (
        "BEGIN:VTIMEZONE\r\nTZID:Shop time\r\n"
        "BEGIN:DAYLIGHT\r\nDTSTART:20070311T020000\r\nRRULE:FREQ=YEARLY;BYDAY=2SU;BYMONTH=3\r\n"
        "TZOFFSETFROM:-0500\r\nTZOFFSETTO:-0400\r\nTZNAME:EDT\r\nEND:DAYLIGHT\r\n"
        "BEGIN:STANDARD\r\nDTSTART:20071104T020000\r\nRRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=11\r\n"
        "TZOFFSETFROM:-0400\r\nTZOFFSETTO:-0500\r\nTZNAME:EST\r\nEND:STANDARD\r\n"
        "END:VTIMEZONE\r\n"
    )
    text = event(
        "DTSTART;TZID=Shop time:20260307T120000", "DURATION:P1D", "RRULE:FREQ=DAILY;COUNT=2"
    )
    reading = read(definition, text, zone="UTC")
    assert spans(reading) == [("03-07T17:00", "03-08T16:00"), ("03-08T16:00", "03-09T16:00")]
    assert reading.notes == ()


def test_a_zone_that_nobody_defines_is_noted() -> None:
    text = event("DTSTART;TZID=Nowhere/Town:20260601T080000", "DURATION:PT1H")
    reading = read(text)
    assert spans(reading) == [("06-01T12:00", "06-01T13:00")]
    assert [note.code for note in reading.notes] == ["zone_unknown"]


def test_free_busy_components() -> None:
    """RFC 5545, 3.8.2.6: FREEBUSY in UTC, start/duration or start/end; FBTYPE=FREE is free."""
    text = (
        "BEGIN:VFREEBUSY\r\nUID:f@example.org\r\nDTSTAMP:20260101T000000Z\r\n"
        "FREEBUSY;FBTYPE=BUSY-UNAVAILABLE:20260308T160000Z/PT3H\r\n"
        "FREEBUSY:20260309T160000Z/PT3H,20260310T200000Z/20260310T210000Z\r\n"
        "FREEBUSY;FBTYPE=FREE:20260311T160000Z/PT8H\r\nEND:VFREEBUSY\r\n"
    )
    assert spans(read(text)) == [
        ("03-08T16:00", "03-08T19:00"),
        ("03-09T16:00", "03-09T19:00"),
        ("03-10T20:00", "03-10T21:00"),
    ]


def test_busy_times_merge() -> None:
    reading = read(
        event("DTSTART:20260601T120000Z", "DURATION:PT1H", uid="a"),
        event("DTSTART:20260601T130000Z", "DURATION:PT1H", uid="b"),
        event("DTSTART:20260601T150000Z", "DURATION:PT1H", uid="c"),
    )
    assert reading.merged() == (
        (datetime(2026, 6, 1, 12, tzinfo=UTC), datetime(2026, 6, 1, 14, tzinfo=UTC)),
        (datetime(2026, 6, 1, 15, tzinfo=UTC), datetime(2026, 6, 1, 16, tzinfo=UTC)),
    )


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        (("SUMMARY:no start",), "event_unreadable"),
        (("DTSTART:2026bad",), "event_unreadable"),
        (("DTSTART:20260601T120000Z", "DTEND:20260601T110000Z"), "event_unreadable"),
        (("DTSTART:20260601T120000Z", "DTEND;VALUE=DATE:20260602"), "event_unreadable"),
        (("DTSTART:20260601T120000Z", "DURATION:-PT1H"), "event_unreadable"),
        (("DTSTART:20260601T120000Z", "DTSTART:20260602T120000Z"), "event_unreadable"),
        (("DTSTART;VALUE=DATE:20260601", "DTEND;VALUE=DATE:20260601"), "empty_day"),
        (("DTSTART:20260601T120000Z", "DURATION:PT1H", "RRULE:FREQ=HOURLY"), "rule_not_read"),
    ],
)
def test_what_is_not_taken_at_face_value_is_noted(lines: tuple[str, ...], code: str) -> None:
    fine = event("DTSTART:20260701T120000Z", "DURATION:PT1H", uid="fine@example.org")
    reading = read(event(*lines), fine)
    assert [note.code for note in reading.notes] == [code]
    assert reading.busy[-1].uid == "fine@example.org"


@pytest.mark.parametrize("text", ["", "hello", "BEGIN:VCARD\r\nEND:VCARD\r\n", HEAD])
def test_what_is_no_calendar_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_busy(text, zone_name="UTC", first=date(2026, 1, 1), last=date(2026, 1, 2))
    assert refused.value.code == "calendar_unreadable"


def test_a_zone_name_that_is_a_folder_is_refused() -> None:
    with pytest.raises(InputError) as refused:
        read(event("DTSTART;TZID=America:20260601T080000"))
    assert refused.value.code == "calendar_unreadable"


def test_a_calendar_that_goes_on_for_too_long_is_refused() -> None:
    endless = [
        event(
            "DTSTART:00010101T000000Z",
            "DURATION:PT1H",
            "RRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30;COUNT=9",
            uid=f"{n}@example.org",
        )
        for n in range(3)
    ]
    with pytest.raises(InputError) as refused:
        read(*endless)
    assert refused.value.code == "calendar_too_large"


GOOD = event(
    f"DTSTART;{NEW_YORK}:20260601T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=4"
) + event("DTSTART;VALUE=DATE:20260308", uid="b")


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_damaged_text_is_read_or_refused_and_nothing_else(data: st.DataObject) -> None:
    text = HEAD + GOOD + TAIL
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 12))
        text = (
            text[:place]
            + data.draw(st.text("0:;,=TZ\r\n ABCD-é", max_size=4))
            + text[place + cut :]
        )
    try:
        read_busy(text, zone_name="UTC", first=date(2026, 1, 1), last=date(2026, 12, 31))
    except InputError as refused:
        assert refused.code in ("calendar_unreadable", "calendar_too_large")
