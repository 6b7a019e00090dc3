"""What happened since the published plan was computed, read off the two documents."""

from __future__ import annotations

from collections.abc import Set
from datetime import date
from typing import Any

from contractor.engine.rostering.document import Half
from contractor.engine.rostering.events import Event

Raw = dict[str, Any]


def happenings(before: Raw, after: Raw) -> tuple[Event, ...]:
    """Return the events that lead from the published document to the present one.

    Jobs that are no longer in it were called off or are not to be built now.
    """
    if not before:
        return ()
    return (*_absences(before, after), *_job_events(before, after), *_gone(before, after))


def openings(known: Set[str], after: Raw) -> tuple[Event, ...]:
    """Return an event for each job that is not ``known`` to the plan in force.

    A new job, or one whose visit was taken back, counts as one whose labour became known: the
    optimizer then looks for its best place, and not only for a free one.
    """
    return tuple(
        Event("labour_changed", job["id"], labour_h=job["labour_h"])
        for job in after["jobs"]
        if job["id"] not in known
    )


def _absences(before: Raw, after: Raw) -> list[Event]:
    known = {crew["id"]: {_key(one) for one in crew["absences"]} for crew in before["crews"]}
    return [
        Event(
            "crew_absent",
            crew["id"],
            date.fromisoformat(one["first"]),
            date.fromisoformat(one["last"]),
            one["half"],
        )
        for crew in after["crews"]
        if crew["id"] in known
        for one in crew["absences"]
        if _key(one) not in known[crew["id"]] and not one["why"].endswith(" stands")
    ]


def _key(absence: Raw) -> tuple[str, str, Half | None]:
    return absence["first"], absence["last"], absence["half"]


def _job_events(before: Raw, after: Raw) -> list[Event]:
    old_jobs = {job["id"]: job for job in before["jobs"]}
    found: list[Event] = []
    for job in after["jobs"]:
        old = old_jobs.get(job["id"])
        if old is None:
            continue
        if old["labour_h"] != job["labour_h"]:
            found.append(Event("labour_changed", job["id"], labour_h=job["labour_h"]))
        if job["material_ready"] > max(old["material_ready"], after["first_day"]):
            ready = date.fromisoformat(job["material_ready"])
            found.append(Event("material_late", job["id"], ready))
        for first, last in job["blackout"]:
            if [first, last] not in old["blackout"]:
                span = date.fromisoformat(first), date.fromisoformat(last)
                found.append(Event("homeowner_blackout", job["id"], *span))
    return found


def _gone(before: Raw, after: Raw) -> list[Event]:
    left = {job["id"] for job in after["jobs"]}
    return [Event("job_cancelled", job["id"]) for job in before["jobs"] if job["id"] not in left]
