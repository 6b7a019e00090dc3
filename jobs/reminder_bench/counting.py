"""Counts what reached homeowners, from the gateways' files alone, and compares it with the law.

Shares no code with the sender: local times come from the zone database, the hours from
47 CFR 64.1200(c)(1) and the state table.
"""

from __future__ import annotations

import email
import json
from collections import Counter
from datetime import datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from contractor.engine.followup.state_windows import STATE_WINDOWS
from jobs.models import Reminder


def recipients() -> Counter[str]:
    """Return how many messages lie in the outboxes, per address or number."""
    found: Counter[str] = Counter()
    for file in Path(settings.EMAIL_FILE_PATH).glob("*.eml"):
        found[email.message_from_bytes(file.read_bytes())["To"]] += 1
    for file in (Path(settings.STATE_DIR) / "texts").glob("*.json"):
        found[json.loads(file.read_text())["to"]] += 1
    return found


def hand_overs(folder: Path) -> list[tuple[str, datetime]]:
    """Return (message id, simulated time) of every call of a gateway, finished or not."""
    rows = []
    for file in sorted(folder.glob("handed-*")):
        for line in file.read_text().splitlines():
            message_id, at = line.split()
            rows.append((message_id, datetime.fromisoformat(at)))
    return rows


def is_inside(at: datetime, zone: str, state: str) -> bool:
    local = at.astimezone(ZoneInfo(zone))
    narrow = STATE_WINDOWS.get(state)
    opens, closes = (narrow.opens, narrow.closes) if narrow else (time(8), time(21))
    is_closed_day = narrow is not None and local.weekday() in narrow.closed_weekdays
    return opens <= local.time() < closes and not is_closed_day


def count_up(folder: Path, expected: dict[str, int]) -> dict[str, Any]:
    """Return the counts; ``violations`` is empty where every rule held."""
    places = {
        row.message_id: (row.job.site.time_zone, row.job.site.state)
        for row in Reminder.objects.select_related("job__site")
    }
    got, calls = recipients(), hand_overs(folder)
    statuses = Counter(Reminder.objects.values_list("status", flat=True))
    outside = [at for message_id, at in calls if not is_inside(at, *places[message_id])]
    result = {
        "messages": got.total(),
        "twice": sum(1 for times in got.values() if times > 1),
        "lost": expected["sent"] - len(got),
        "hand_overs": len(calls),
        "repeated_hand_overs": len(calls) - len({message_id for message_id, _ in calls}),
        "outside_hours": len(outside),
        "statuses": dict(sorted(statuses.items())),
        "settled_by_asking": Reminder.objects.filter(outcome="the gateway had it").count(),
        "put_back": Reminder.objects.filter(status="sent", attempts__gt=1).count(),
    }
    wrong = [name for name in ("twice", "lost", "outside_hours") if result[name]]
    if dict(statuses) != {name: n for name, n in expected.items() if n}:
        wrong.append("statuses")
    return {**result, "violations": wrong}
