"""Of an imported job: what was installed, measured, sent and asked for."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from contractor.errors import InvalidValueError
from jobs.errors import NoTorqueError
from jobs.models import BraceRecord, InstallRecord, Job, Reading, Reminder
from jobs.services import followup, installs, readings
from jobs.services.doubts import require_possible
from jobs.services.importing_people import Log

Document = Mapping[str, Any]
R = Reminder.Status


def tell(
    job: Job,
    document: Document,
    screenings: Sequence[Mapping[str, Any]],
    report: Log,
    at: datetime,
) -> None:
    """Store the rest of the document with a new job."""
    if document["install"] is not None:
        walls = [wall["wall"] for wall in document["walls"]]
        limits = {
            wall: _limit(job, screening) for wall, screening in zip(walls, screenings, strict=True)
        }
        _install(job, document["install"], limits, report)
    _readings(job, document, report)
    reminders = _reminders(job, document, report)
    for row in document["care_logs"]:
        settled = row["reminder"] and reminders.get(tuple(row["reminder"].values()))
        job.care_logs.create(**{**row, "reminder": settled}, branch=job.branch)
    report.add("care_log", "created", len(document["care_logs"]))
    for row in document["visit_requests"]:
        # No plan of this installation holds it.
        status = "open" if row["status"] == "planned" else row["status"]
        job.visit_requests.create(**{**row, "status": status}, branch=job.branch)
    report.add("visit_request", "created", len(document["visit_requests"]))


def _limit(job: Job, screening: Mapping[str, Any]) -> float | None:
    try:
        return installs.torque_limit(job, dict(screening))
    except NoTorqueError:
        return None


def _install(
    job: Job, told: Mapping[str, Any], limits: Mapping[str, float | None], report: Log
) -> None:
    values = {name: value for name, value in told.items() if name != "braces"}
    install = InstallRecord.objects.create(job=job, branch=job.branch, **values)
    for number, row in enumerate(told["braces"]):
        limit = _limit_of(row, limits[row["wall"]], number)
        BraceRecord.objects.create(install=install, **{**row, "torque_limit_lbf_ft": limit})
        if limit != row["torque_limit_lbf_ft"]:
            report.add(
                "brace",
                "changed",
                detail=f"{row['wall']} {row['mark']}: the torque limit is {limit:g} lbf ft here.",
            )
    report.add("install", "created", detail=f"{len(told['braces'])} braces")


def _limit_of(row: Mapping[str, Any], limit: float | None, number: int) -> float:
    """Return the limit that this screening gives, or what the bolt stands at where that is more.

    What a document says is not believed, for homeowners are told never to go beyond it.
    """
    reached = row["torque_lbf_ft"]
    if limit is None and reached is None:
        raise NoTorqueError(
            "The screening could not name a torque for this wall.",
            remedy="Export the job again with the engineer's release and its torque.",
            pointer=f"#/document/install/braces/{number}",
        )
    return float(max(limit or 0.0, reached or 0.0))


def _readings(job: Job, document: Document, report: Log) -> None:
    created = 0
    for number, row in enumerate(document["readings"]):
        reading = Reading(branch=job.branch, site=job.site, **row)
        require_possible(reading)
        twin = _twin(job, row)
        if twin is None:
            reading.save()
            created += 1
        elif twin.value_ticks != reading.value_ticks:
            raise InvalidValueError(
                "There is another reading of that day and place.",
                remedy="Settle which one is right, then import again.",
                pointer=f"#/document/readings/{number}",
            )
    report.add("reading", "created", created)
    report.add("reading", "unchanged", len(document["readings"]) - created)
    for wall in document["walls"]:
        readings.judge_again(job.site, wall["wall"])


def _twin(job: Job, row: Mapping[str, Any]) -> Reading | None:
    place = ("wall", "kind", "mark", "at_ticks", "height_ticks", "measured_on", "doubt")
    same = {name: row[name] for name in place if row[name] is not None}
    if row["kind"] == Reading.Kind.TORQUE:
        same["torque_lbf_ft"] = row["torque_lbf_ft"]
    elif row["doubt"]:
        same["value_ticks"] = row["value_ticks"]
    return job.site.readings.filter(**same).first()


def _reminders(job: Job, document: Document, report: Log) -> dict[tuple[Any, ...], Reminder]:
    """Store reminders: due ones are due here, one that was on its way is unknown."""
    made: dict[tuple[Any, ...], Reminder] = {}
    for row in document["reminders"]:
        status = R.UNKNOWN if row["status"] == R.SENDING else row["status"]
        key = (row["kind"], row["due_on"])
        if key in made:
            raise InvalidValueError(
                f"Two reminders are due on {row['due_on']}.", remedy="Give each once."
            )
        made[key] = Reminder.objects.create(
            **{**row, "status": status},
            job=job,
            branch=job.branch,
            not_before=followup.first_instant(job.site, row["due_on"]),
            message_id=secrets.token_hex(16),
        )
    report.add("reminder", "created", len(made))
    return made
