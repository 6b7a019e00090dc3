"""The kit of a job: made from its bills, settled when the install closes."""

from __future__ import annotations

from typing import Any

from contractor.engine.units import read_length
from contractor.errors import InvalidValueError
from inventory import locks as stock_locks
from inventory.amounts import Need
from inventory.models import Kit, Part
from inventory.services import loading
from jobs.models import Job


def needs_of(job: Job) -> list[Need]:
    """Return what the bills of the job's walls ask for, one line per part and piece."""
    needs: list[Need] = []
    codes = _parts_of(job)
    for wall in job.walls.select_related("layout").order_by("pk"):
        for line in wall.layout.bill["lines"]:
            needs += _needs_of_line(line, wall.wall, codes)
    return _merged(needs)


def _parts_of(job: Job) -> dict[str, int]:
    company = job.branch.company_id
    return dict(Part.objects.filter(company_id=company).values_list("code", "pk"))


def _needs_of_line(line: dict[str, Any], wall: str, codes: dict[str, int]) -> list[Need]:
    part = codes.get(line["part"])
    if part is None:
        raise InvalidValueError(
            f"The bill names part {line['part']}, which is not in the catalogue.",
            remedy="Load the catalogue that the bill was made from, or lay out again.",
            part=line["part"],
        )
    if "pieces" not in line:
        return [Need(part, line["count"])]
    return [
        Need(
            part,
            1,
            length_ticks=read_length(piece["length"], "/length"),
            mark=f"{wall} {piece['mark']}"[:40],
        )
        for piece in line["pieces"]
    ]


def _merged(needs: list[Need]) -> list[Need]:
    """Add up units of one part over all walls; pieces stay one by one, each with its mark."""
    units: dict[int, int] = {}
    for need in needs:
        if not need.length_ticks:
            units[need.part_pk] = units.get(need.part_pk, 0) + need.quantity
    pieces = [need for need in needs if need.length_ticks]
    return pieces + [Need(part, count) for part, count in units.items()]


def settle_used(job: Job) -> None:
    """Mark the kit of a locked job as used, where it was loaded and nobody settled it yet."""
    if job.kit_id is None:
        return
    kit = stock_locks.lock_kit(job.kit_id)
    if kit.status != Kit.Status.LOADED:
        return
    loading.settle_used(kit)
