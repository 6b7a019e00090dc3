"""The crew's iCalendar feed (RFC 5545): zone, moves, cancellation, privacy."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import icalendar
import pytest

from contractor.api.models import Branch
from contractor.crews import feeds
from contractor.crews.models import Crew, CrewPlan, Visit
from contractor.crews.services import calendars, visits
from contractor.errors import NotFoundError
from jobs.models import Job
from tests.crews.conftest import FRIDAY, MONDAY

pytestmark = pytest.mark.django_db(transaction=True)
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.fixture
def visit(yard: Branch, make_crew: Callable[..., Crew], make_job: Callable[..., Job]) -> Visit:
    """Friday afternoon to Monday morning, across the start of daylight saving time."""
    plan = CrewPlan.objects.create(
        branch=yard, today=MONDAY, first_day=MONDAY, last_day=FRIDAY, status="published"
    )
    return Visit.objects.create(
        branch=yard,
        job=make_job(status=Job.Status.PLANNED),
        plan=plan,
        crew=make_crew("A"),
        date=date(2026, 3, 6),
        half="pm",
        half_days=2,
        last_date=date(2026, 3, 9),
        last_half="am",
    )


def only_event(text: bytes) -> Any:
    calendar = icalendar.Calendar.from_ical(text)
    [event] = calendar.walk("VEVENT")
    return event


def test_wall_clock_of_the_branch_across_dst(visit: Visit) -> None:
    token = calendars.make_feed(visit.crew_id, shows_addresses=False)
    event = only_event(feeds.feed_text(token, at=NOW))
    assert event["DTSTART"].dt.isoformat() == "2026-03-06T12:30:00-05:00"
    assert event["DTEND"].dt.isoformat() == "2026-03-09T12:00:00-04:00"
    assert str(event["STATUS"]) == "TENTATIVE"


def test_feed_without_addresses_names_nobody(visit: Visit) -> None:
    token = calendars.make_feed(visit.crew_id, shows_addresses=False)
    text = feeds.feed_text(token, at=NOW).decode()
    assert "Alder" not in text


def test_cancelled_visit_stays_as_cancelled(visit: Visit) -> None:
    visits.cancel_visit(visit.pk)
    token = calendars.make_feed(visit.crew_id, shows_addresses=True)
    event = only_event(feeds.feed_text(token, at=NOW))
    assert (str(event["STATUS"]), int(event["SEQUENCE"])) == ("CANCELLED", 1)


def test_revoked_address_is_gone(visit: Visit) -> None:
    token = calendars.make_feed(visit.crew_id, shows_addresses=False)
    assert calendars.revoke_feeds(visit.crew_id, at=NOW) == 1
    with pytest.raises(NotFoundError):
        feeds.feed_text(token, at=NOW)


def test_proposed_holidays_count_once_confirmed(yard: Branch) -> None:
    from contractor.crews.services.instance import build_instance

    rows = calendars.propose_holidays(yard.pk, year=2026, subdivision=None)
    assert date(2026, 7, 3) in {row.day for row in rows}  # 4 July is a Saturday: 5 U.S.C. 6103(b)
    again = calendars.propose_holidays(yard.pk, year=2026, subdivision=None)
    assert [row.pk for row in again] == [row.pk for row in rows]
    span = {"today": date(2026, 7, 1), "first_day": date(2026, 7, 1), "last_day": date(2026, 7, 8)}
    assert build_instance(yard, **span).document["branches"][0]["holidays"] == []
    row = next(row for row in rows if row.day == date(2026, 7, 3))
    row.is_confirmed = True
    row.save()
    assert build_instance(yard, **span).document["branches"][0]["holidays"] == ["2026-07-03"]
