"""Issue rule: catch-up after downtime sends one message, not ten."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.followup.catch_up import OpenReminder, catch_up

TODAY = date(2026, 6, 1)


def test_ten_missed_reminders_become_the_latest_one() -> None:
    missed = [OpenReminder(f"r{n}", "site-1", TODAY - timedelta(days=30 * n)) for n in range(10)]
    found = catch_up(missed, TODAY)
    assert [one.key for one in found.send] == ["r0"]
    assert {(old.reminder.key, old.by) for old in found.superseded} == {
        (f"r{n}", "r0") for n in range(1, 10)
    }


def test_sites_do_not_supersede_each_other_and_the_future_waits() -> None:
    a = OpenReminder("a", "site-1", TODAY)
    b = OpenReminder("b", "site-2", TODAY)
    later = OpenReminder("c", "site-1", TODAY + timedelta(days=1))
    found = catch_up([later, b, a], TODAY)
    assert found.send == (a, b)
    assert found.superseded == ()


@given(
    st.lists(
        st.builds(
            OpenReminder,
            st.uuids().map(str),
            st.sampled_from(["s1", "s2", "s3"]),
            st.dates(date(2026, 1, 1), date(2026, 12, 31)),
        ),
        max_size=30,
    )
)
@settings(deadline=None)
def test_every_due_reminder_is_sent_or_superseded_once(reminders: list[OpenReminder]) -> None:
    found = catch_up(reminders, TODAY)
    handled = [one.key for one in found.send] + [old.reminder.key for old in found.superseded]
    assert sorted(handled) == sorted(one.key for one in reminders if one.due <= TODAY)
    assert len({one.subject for one in found.send}) == len(found.send)
    assert catch_up(reversed(reminders), TODAY) == found
