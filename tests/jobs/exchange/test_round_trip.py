"""Whatever a job holds, its document comes in and goes out the same."""

from __future__ import annotations

import copy
from datetime import date
from typing import Any

from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from contractor.api.models import Branch
from jobs.models import Job
from tests.conftest import ApiTester
from tests.jobs.exchange.test_job_document import export, plain, send

words = st.text(
    st.characters(categories=["L", "N", "P", "S"]),
    min_size=1,
    max_size=30,
)
SMALLEST = [{"value": n / 64, "unit": "in"} for n in (1, 2, 4, 8)]
days = st.dates(date(2020, 1, 1), date(2035, 12, 31)).map(str)
ticks = st.integers(0, 64 * 200).map(lambda n: {"value": n / 64, "unit": "in"})
instants = st.datetimes().map(lambda at: at.replace(year=2026).isoformat() + "Z")


@st.composite
def readings(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Bow readings, at most one a day and place, as the table wants it."""
    found = {}
    for _ in range(draw(st.integers(0, 4))):
        day, at, height = draw(days), draw(ticks), draw(ticks)
        found[day, at["value"], height["value"]] = {
            "wall": "north wall",
            "kind": "bow",
            "mark": "",
            "at": at,
            "height": height,
            "torque": None,
            "measured_on": day,
            "instrument": draw(words),
            "value": draw(st.integers(-600, 600).map(lambda n: {"value": n / 64, "unit": "in"})),
            "resolution": draw(st.none() | st.sampled_from(SMALLEST)),
            "source": draw(st.sampled_from(["office", "homeowner", "crew"])),
            "doubt": draw(st.just("") | words),
        }
    return sorted(found.values(), key=lambda row: str(row["measured_on"]))


@st.composite
def reminders(draw: st.DrawFn) -> list[dict[str, Any]]:
    known = ["due", "sent", "unknown", "done", "cancelled", "superseded"]
    return [
        {
            "kind": "re_tightening",
            "due_on": day,
            "reason": draw(words),
            "status": draw(st.sampled_from(known)),
            "outcome": draw(words),
            "channel": draw(st.sampled_from(["", "email", "text"])),
            "sent_at": draw(st.none() | instants),
        }
        for day in sorted(draw(st.sets(days, max_size=4)))
    ]


changes = st.fixed_dictionaries(
    {
        "customer": st.fixed_dictionaries({"name": words, "reference": words, "phone": words}),
        "site": st.fixed_dictionaries(
            {
                "label": words,
                "address": words,
                "reference": st.just(""),
                "latitude": st.none() | st.floats(-90, 90),
                "time_zone": st.sampled_from(["America/Denver", "Europe/Zurich", "UTC"]),
            }
        ),
        "job": st.fixed_dictionaries(
            {
                "title": words,
                "severity": st.integers(1, 4),
                "due": days,
                "skills": st.lists(words, max_size=3),
                "weekdays": st.lists(st.integers(0, 6), min_size=1, max_size=7),
                "min_crew_size": st.integers(1, 12),
                "permit_release": st.none() | days,
            }
        ),
        "readings": readings(),
        "reminders": reminders(),
    }
)


def without_text(value: Any) -> Any:
    """Return ``value`` with quantities as they may be sent: the text is ours."""
    if isinstance(value, dict):
        kept = {name: without_text(inner) for name, inner in value.items()}
        if {"value", "unit"} <= set(kept):
            kept.pop("text", None)
        return kept
    return [without_text(inner) for inner in value] if isinstance(value, list) else value


@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    phases=[Phase.generate],  # each example runs the engine: do not shrink
)
@given(changes)
def test_any_job_comes_in_and_goes_out_the_same(
    office: ApiTester,
    built: Job,
    target: Branch,
    target_office: ApiTester,
    changes: dict[str, Any],
) -> None:
    document = copy.deepcopy(export(office, built.pk))
    for part, values in changes.items():
        if isinstance(values, dict):
            document[part].update(values)
        else:
            document[part] = values
    point = transaction.savepoint()
    answer = send(target_office, target, document, keep_consent=True)
    assert answer.status_code == 200, answer.content
    back = export(target_office, answer.json()["job"])
    transaction.savepoint_rollback(point)
    for found, wanted in ((back, document),):
        found_at = [{**row, "sent_at": bool(row["sent_at"])} for row in found.pop("reminders")]
        wanted_at = [{**row, "sent_at": bool(row["sent_at"])} for row in wanted.pop("reminders")]
        assert found_at == wanted_at
    assert without_text(plain(back)) == without_text(plain(document))
