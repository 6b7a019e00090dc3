"""After downtime a homeowner gets one message, not ten."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class OpenReminder:
    """A reminder nobody has sent yet: ``key`` names it, ``subject`` the site it is about."""

    key: str
    subject: str
    due: date


@dataclass(frozen=True)
class Superseded:
    """A reminder that is never sent, because ``by`` (a key) says the same thing later."""

    reminder: OpenReminder
    by: str


@dataclass(frozen=True)
class CatchUp:
    send: tuple[OpenReminder, ...]
    superseded: tuple[Superseded, ...]


def catch_up(reminders: Iterable[OpenReminder], today: date) -> CatchUp:
    """Return, for each subject, the latest reminder due by ``today`` and those it replaces.

    Reminders due after ``today`` are left alone. Both answers are in order of subject and due
    date; of two on one day the greater key wins, so that the answer is the same every time.
    """
    overdue: dict[str, list[OpenReminder]] = {}
    for reminder in reminders:
        if reminder.due <= today:
            overdue.setdefault(reminder.subject, []).append(reminder)
    send: list[OpenReminder] = []
    superseded: list[Superseded] = []
    for subject in sorted(overdue):
        *earlier, latest = sorted(overdue[subject], key=lambda one: (one.due, one.key))
        send.append(latest)
        superseded += [Superseded(reminder, latest.key) for reminder in earlier]
    return CatchUp(tuple(send), tuple(superseded))
