"""Feeds of visits: RFC 5545 and RFC 7986, read back by two libraries that are not ours."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import tzical  # type: ignore[import-untyped]
from icalendar import Calendar

from contractor.engine.calendars.busy import read_busy
from contractor.engine.calendars.feed import (
    AllDay,
    CalendarEvent,
    Timed,
    event_uid,
    feed_etag,
    write_feed,
)
from contractor.engine.calendars.timezone_text import timezone_lines
from contractor.engine.errors import InputError

NEW_YORK = ZoneInfo("America/New_York")
REVISED = datetime(2026, 2, 1, 12, tzinfo=UTC)
MORNING = CalendarEvent(
    uid=event_uid("visit", 12, "example.org"),
    summary="Braces, 12 Sample Lane; north wall",
    when=Timed(datetime(2026, 3, 9, 8, tzinfo=NEW_YORK), datetime(2026, 3, 9, 12, tzinfo=NEW_YORK)),
    revised=REVISED,
    description="Crew A\nbring the long beams",
    location="12 Sample Lane, Springfield",
)
TWO_DAYS = AllDay(date(2026, 3, 9), date(2026, 3, 10))
DAYS = CalendarEvent("visit-13@example.org", "Two days", TWO_DAYS, REVISED)


def feed(*events: CalendarEvent, name: str = "Crew A") -> bytes:
    return write_feed(events, name=name, zone_name="America/New_York")


def lines(text: bytes) -> list[str]:
    return text.decode().replace("\r\n ", "").split("\r\n")


def test_what_every_feed_says() -> None:
    """RFC 5545, 3.6 (PRODID, VERSION once); RFC 7986, 5.1 NAME and 5.7 REFRESH-INTERVAL."""
    found = lines(feed(MORNING))
    assert found[0] == "BEGIN:VCALENDAR" and found[-2:] == ["END:VCALENDAR", ""]
    for line in ("VERSION:2.0", "NAME:Crew A", "REFRESH-INTERVAL;VALUE=DURATION:PT1H"):
        assert found.count(line) == 1
    assert [line for line in found if line.startswith("PRODID:")] == [
        "PRODID:-//Tautline//Crew calendar//EN"
    ]


def test_a_timed_visit() -> None:
    """RFC 5545: 3.8.7.2 DTSTAMP in UTC, 3.2.19 TZID, 3.3.11 escapes in TEXT."""
    found = lines(feed(MORNING))
    for line in (
        "UID:visit-12@example.org",
        "DTSTAMP:20260201T120000Z",
        "DTSTART;TZID=America/New_York:20260309T080000",
        "DTEND;TZID=America/New_York:20260309T120000",
        "SEQUENCE:0",
        "STATUS:CONFIRMED",
        "TRANSP:OPAQUE",
        "SUMMARY:Braces\\, 12 Sample Lane\\; north wall",
        "DESCRIPTION:Crew A\\nbring the long beams",
    ):
        assert line in found


def test_all_day_end_is_exclusive() -> None:
    """RFC 5545, 3.6.1: DTEND is the 'non-inclusive end'."""
    found = lines(feed(DAYS))
    assert "DTSTART;VALUE=DATE:20260309" in found
    assert "DTEND;VALUE=DATE:20260311" in found
    assert "BEGIN:VTIMEZONE" not in found


def test_a_cancelled_visit_stays_with_a_higher_sequence() -> None:
    """RFC 5545, 3.8.7.4 SEQUENCE and 3.8.1.11 STATUS."""
    found = lines(feed(replace(MORNING, status="CANCELLED", sequence=3)))
    assert "STATUS:CANCELLED" in found and "SEQUENCE:3" in found
    assert "TRANSP:TRANSPARENT" in found
    assert "UID:visit-12@example.org" in found


@pytest.mark.parametrize("filling", ["x", "é", "長", "👷", "\\", "a, b; "])
def test_lines_are_folded_at_75_octets_between_characters(filling: str) -> None:
    """RFC 5545, 3.1: 'SHOULD NOT be longer than 75 octets, excluding the line break'."""
    text = filling * 90
    raw = feed(replace(MORNING, summary=text))
    for line in raw.split(b"\r\n"):
        assert len(line) <= 75
        line.decode()  # a fold inside a character would not decode
    read_back = Calendar.from_ical(raw).walk("VEVENT")[0]
    assert str(read_back["SUMMARY"]) == text


def test_nothing_can_be_smuggled_in_through_a_text() -> None:
    """RFC 5545, 3.1: control characters are not allowed; a line break ends a property."""
    evil = "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\rUID:2\x00\x0b\u2028"
    raw = feed(
        replace(MORNING, summary=evil, location=evil, url="https://example.org/\r\nUID:3"),
        name=evil,
    )
    calendar = Calendar.from_ical(raw)
    assert len(calendar.walk("VEVENT")) == 1
    assert lines(raw).count("BEGIN:VEVENT") == 1
    assert b"\x00" not in raw and b"\x0b" not in raw


def test_the_same_events_give_the_same_bytes_in_any_order() -> None:
    first, second = feed(MORNING, DAYS), feed(DAYS, MORNING)
    assert first == second
    assert feed_etag(first) == feed_etag(second)
    moved = replace(MORNING, sequence=1)
    assert feed_etag(feed(moved, DAYS)) != feed_etag(first)


def test_our_own_feed_reads_back_as_busy_times() -> None:
    cancelled = replace(MORNING, uid="gone@example.org", status="CANCELLED")
    reading = read_busy(
        feed(MORNING, DAYS, cancelled).decode(),
        zone_name="America/New_York",
        first=date(2026, 3, 1),
        last=date(2026, 3, 31),
    )
    assert [(one.uid, one.start.hour, one.end - one.start) for one in reading.busy] == [
        ("visit-13@example.org", 4, timedelta(days=2)),
        ("visit-12@example.org", 12, timedelta(hours=4)),
    ]
    assert reading.notes == ()


def test_the_new_york_definition_of_the_rfc() -> None:
    """RFC 5545, 3.6.5: the onsets of 2007 in the America/New_York example, in old local time."""
    found = timezone_lines(
        NEW_YORK, datetime(2007, 1, 1, tzinfo=UTC), datetime(2007, 12, 31, tzinfo=UTC)
    )
    text = "\n".join(found)
    assert (
        "BEGIN:DAYLIGHT\nDTSTART:20070311T020000\nTZOFFSETFROM:-0500\nTZOFFSETTO:-0400\n"
        "TZNAME:EDT\nEND:DAYLIGHT"
    ) in text
    assert (
        "BEGIN:STANDARD\nDTSTART:20071104T020000\nTZOFFSETFROM:-0400\nTZOFFSETTO:-0500\n"
        "TZNAME:EST\nEND:STANDARD"
    ) in text


@pytest.mark.parametrize(
    "name",
    ["America/New_York", "America/Chicago", "America/Phoenix", "Pacific/Honolulu",
     "America/St_Johns", "Australia/Lord_Howe", "Europe/Dublin", "Asia/Kolkata"],
)  # fmt: skip
def test_the_zone_definition_holds_at_every_hour(name: str) -> None:
    """dateutil 2.9 reads VTIMEZONE by its text alone; zoneinfo has the IANA database."""
    where = ZoneInfo(name)
    begin, end = datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 12, 31, tzinfo=UTC)
    text = "\r\n".join(timezone_lines(where, begin, end))
    read = tzical(io.StringIO(text)).get()
    assert read is not None
    naive, last = datetime(2026, 1, 1, 0, 30), datetime(2027, 12, 31)  # noqa: DTZ001
    while naive < last:
        exists = naive.replace(tzinfo=where).astimezone(UTC).astimezone(where).replace(tzinfo=None)
        if exists == naive:
            assert naive.replace(tzinfo=read).utcoffset() == naive.replace(tzinfo=where).utcoffset()
        naive += timedelta(hours=1)


@pytest.mark.parametrize(
    ("event", "code"),
    [
        (replace(MORNING, when=Timed(REVISED, REVISED)), "event_impossible"),
        (replace(DAYS, when=AllDay(date(2026, 3, 9), date(2026, 3, 8))), "event_impossible"),
        (replace(MORNING, uid=""), "event_impossible"),
        (replace(MORNING, sequence=-1), "event_impossible"),
        (replace(MORNING, revised=REVISED.replace(tzinfo=None)), "time_without_offset"),
        (DAYS, "uid_repeated"),
    ],
)
def test_impossible_events_are_refused(event: CalendarEvent, code: str) -> None:
    with pytest.raises(InputError) as refused:
        feed(event, DAYS)
    assert refused.value.code == code
