"""Readings come in; each one runs the movement engine, and a wall that moves in asks for help."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine.errors import InputError
from contractor.engine.followup.tightening import exceeds_record
from contractor.engine.movement.document import movement_document
from contractor.engine.units import System, write_length
from contractor.errors import InvalidValueError, NotFoundError, WrongStateError
from jobs import locks, states
from jobs.errors import DoubtfulReadingError
from jobs.models import BraceRecord, Job, Reading, Site, VisitRequest, WallVerdict
from jobs.services import followup
from jobs.services.doubts import doubt_about, require_possible

MOVING_IN = "moving in"
CRACK_LIMIT_TICKS = 16  # 1/4 in: builders' warranty guideline, see screening.distress
LIVE = (Job.Status.INSTALLED, Job.Status.CLOSED)


@service
def add_readings(
    *,
    site_pk: int,
    wall: str,
    rows: list[dict[str, Any]],
    source: str,
    asks_back: bool = False,
) -> list[Reading]:
    """Keep readings of one wall, all or none, and let the movement engine look at the wall.

    Each row has ``kind`` and the columns of Reading. A second reading at the same place on the
    same day is refused. A reading that is hard to believe is kept with its ``doubt`` and used
    nowhere until ``settle_doubt``; with ``asks_back`` DoubtfulReadingError asks the person first.
    """
    site = locks.lock_site(site_pk)
    readings = [
        Reading(branch=site.branch, site=site, wall=wall, source=source, **row) for row in rows
    ]
    _refuse_same_day(site, wall, readings)
    _find_doubts(site, readings, asks_back=asks_back)
    for reading in readings:
        reading.save()
        what = "reading.doubted" if reading.doubt else "reading.added"
        events.record(what, reading, branch=site.branch, wall=wall)
    if used := [reading for reading in readings if not reading.doubt]:
        _watch(site, wall, used)
    return readings


def _find_doubts(site: Site, readings: list[Reading], *, asks_back: bool) -> None:
    for reading in readings:
        require_possible(reading)
        reading.doubt = doubt_about(site, reading)
    doubts = {row: one.doubt for row, one in enumerate(readings) if one.doubt}
    if doubts and asks_back:
        raise DoubtfulReadingError(
            "A reading is hard to believe.",
            remedy="Measure again; if it stands, send it once more and say so.",
            doubts=doubts,
        )


@service
def settle_doubt(reading_pk: int, *, is_right: bool, if_match: int | None = None) -> Reading:
    """The office looked at a doubted reading: from now on it counts, or it is taken out."""
    found = Reading.objects.filter(pk=reading_pk).values_list("site_id", flat=True).first()
    site = locks.lock_site(found or 0)
    reading = Reading.objects.select_for_update().get(pk=reading_pk)
    reading.expect_version(if_match)
    if not reading.doubt:
        raise WrongStateError("Nobody doubts this reading.", remedy="Read it again.")
    if not is_right:
        events.record("reading.removed", reading, branch=site.branch, wall=reading.wall)
        reading.delete()
        return reading
    reading.doubt = ""
    _refuse_same_day(site, reading.wall, [reading])
    reading.save()
    events.record("reading.added", reading, branch=site.branch, wall=reading.wall)
    _watch(site, reading.wall, [reading])
    return reading


def _refuse_same_day(site: Site, wall: str, readings: list[Reading]) -> None:
    seen: set[tuple[Any, ...]] = set()
    for row, reading in enumerate(readings):
        place = (reading.kind, reading.at_ticks, reading.height_ticks, reading.measured_on)
        if reading.kind == Reading.Kind.TORQUE:
            continue
        is_known = site.readings.filter(
            wall=wall,
            kind=reading.kind,
            at_ticks=reading.at_ticks,
            height_ticks=reading.height_ticks,
            measured_on=reading.measured_on,
            doubt="",
        ).exists()
        if place in seen or is_known:
            raise InvalidValueError(
                f"There is a reading of {reading.measured_on} at this place already.",
                remedy="Keep one reading a day and place.",
                row=row,
            )
        seen.add(place)


def movement_of(site: Site, wall: str, system: System = "us") -> dict[str, Any] | None:
    """Return the ``movement-verdict/1`` document of a wall, None while it has no readings."""
    rows = site.readings.filter(wall=wall, doubt="").exclude(kind=Reading.Kind.TORQUE)
    readings = [_row(reading) for reading in rows.order_by("measured_on", "pk")]
    if not readings:
        return None
    document = {"schema": "movement/1", "name": wall, "readings": readings}
    return movement_document(document, system)


def _row(reading: Reading) -> dict[str, Any]:
    value = "inward" if reading.kind == Reading.Kind.BOW else "crack_width"
    row: dict[str, Any] = {
        "on": reading.measured_on.isoformat(),
        "station": write_length(reading.at_ticks or 0),
        "height": write_length(reading.height_ticks or 0),
        value: write_length(reading.value_ticks or 0),
    }
    if reading.instrument:
        row["instrument"] = reading.instrument
    if reading.resolution_ticks:
        row["resolution"] = write_length(reading.resolution_ticks)
    return row


def _watch(site: Site, wall: str, readings: list[Reading]) -> None:
    """Judge the wall; open a service visit where it moves in, a crack is wide, or a bolt was
    tightened above its record."""
    last = max(reading.measured_on for reading in readings)
    verdict = movement_of(site, wall)
    if verdict is not None:
        _keep_verdict(site, wall, verdict, last)
    job = site.jobs.filter(status__in=LIVE, walls__wall=wall).order_by("-pk").first()
    if job is None:
        return
    locked = locks.lock_job(job.pk)
    if verdict is not None and verdict["verdict"] == MOVING_IN:
        request_visit(locked, "moving_in", f"{wall}: {verdict['reason']}", last, severity=4)
        if locked.status == Job.Status.CLOSED:
            states.move_job(locked, Job.Status.INSTALLED)
            locked.save()
        followup.date_extra_reading(locked, last)
    for reading in readings:
        if reading.kind == Reading.Kind.CRACK and (reading.value_ticks or 0) > CRACK_LIMIT_TICKS:
            request_visit(locked, "crack", f"{wall}: crack wider than 1/4 in", last, severity=3)
        if reading.kind == Reading.Kind.TORQUE and _is_over(locked, wall, reading):
            words = f"{wall} {reading.mark}: {reading.torque_lbf_ft:g} lbf ft, above the record"
            request_visit(locked, "over_torque", words, last, severity=3)


def judge_again(site: Site, wall: str) -> None:
    """Write down what the movement engine makes of a wall, and ask for nothing."""
    verdict = movement_of(site, wall)
    counted = site.readings.filter(wall=wall, doubt="").exclude(kind=Reading.Kind.TORQUE)
    last = counted.order_by("-measured_on").first()
    if verdict is not None and last is not None:
        _keep_verdict(site, wall, verdict, last.measured_on)


def _keep_verdict(site: Site, wall: str, verdict: dict[str, Any], last: date) -> None:
    WallVerdict.objects.update_or_create(
        site=site,
        wall=wall,
        defaults={
            "branch": site.branch,
            "verdict": verdict["verdict"],
            "reason": verdict["reason"],
            "last_reading_on": last,
            "next_reading_on": date.fromisoformat(verdict["next_reading"]["on"]),
        },
    )


def _is_over(job: Job, wall: str, reading: Reading) -> bool:
    brace = BraceRecord.objects.filter(install__job=job, wall=wall, mark=reading.mark).first()
    if brace is None or brace.torque_lbf_ft is None or reading.torque_lbf_ft is None:
        return False
    return exceeds_record(reading.torque_lbf_ft, brace.torque_lbf_ft)


def request_visit(
    job: Job, reason: str, detail: str, today: date, *, severity: int
) -> VisitRequest:
    """Ask for a service visit on a locked job; an open request for the same reason is kept."""
    wanted_by = today + timedelta(days={4: 7, 3: 14}.get(severity, 30))
    request, is_new = VisitRequest.objects.get_or_create(
        job=job,
        reason=reason,
        status__in=[VisitRequest.Status.OPEN, VisitRequest.Status.PLANNED],
        defaults={
            "branch": job.branch,
            "detail": detail,
            "severity": severity,
            "wanted_by": wanted_by,
            "status": VisitRequest.Status.OPEN,
        },
    )
    if is_new:
        events.record("visit.requested", request, branch=job.branch, reason=reason, job=job.pk)
    return request


@service
def ask_for_visit(job_pk: int, *, reason: str, detail: str, on: date) -> VisitRequest:
    """The homeowner or the office asks for a visit."""
    job = locks.lock_job(job_pk)
    severity = 4 if reason == "something_wrong" else 2
    return request_visit(job, reason, detail, on, severity=severity)


@service
def finish_visit_request(
    request_pk: int, *, is_done: bool, if_match: int | None = None
) -> VisitRequest:
    request = locks.lock_visit_request(request_pk)
    request.expect_version(if_match)
    S = VisitRequest.Status  # noqa: N806
    states.move_visit_request(request, S.DONE if is_done else S.CANCELLED)
    request.save()
    events.record("visit_request.closed", request, branch=request.branch, done=is_done)
    return request


def wall_of(site: Site, wall: str) -> str:
    """Return ``wall`` if it was surveyed at this site, else NotFoundError."""
    if not site.surveys.filter(wall=wall).exists():
        raise NotFoundError(f"{site.label} has no surveyed wall {wall!r}.")
    return wall


__all__ = [
    "InputError",
    "add_readings",
    "ask_for_visit",
    "finish_visit_request",
    "judge_again",
    "movement_of",
    "request_visit",
    "settle_doubt",
    "wall_of",
]
