"""Where a wall is measured for the first time, on the day its braces are set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from contractor.engine.units import format_length, read_length
from jobs.models import InstallRecord, Job, Reading

MOST_SPOTS = 6


@dataclass(frozen=True, order=True)
class Spot:
    """A mark on a wall: so far from its left corner, so high above the floor."""

    wall: str
    at_ticks: int
    height_ticks: int


def spots_of(job: Job) -> list[Spot]:
    """Return the marks of every wall: along it where the survey measured, there where it bowed
    most. A survey without readings has none."""
    spots: list[Spot] = []
    for wall in job.walls.select_related("layout__survey").order_by("pk"):
        distress = wall.layout.survey.document.get("distress")
        rows = distress.get("readings", []) if isinstance(distress, dict) else []
        spots += _worst(wall.wall, rows)
    return spots


def mark_words(spot: Spot) -> str:
    """Return where the mark is, to the 1/16 in."""
    along, up = format_length(spot.at_ticks), format_length(spot.height_ticks)
    return f"{spot.wall}, {along} from the left corner, {up} up"


def _worst(wall: str, rows: list[dict[str, Any]]) -> list[Spot]:
    worst: dict[int, tuple[int, int]] = {}
    for row in rows:
        at, height, inward = (read_length(row[name], f"/{name}") for name in _MEMBERS)
        worst[at] = max(worst.get(at, (inward, height)), (inward, height))
    found = sorted(worst.items(), key=lambda one: -one[1][0])[:MOST_SPOTS]
    return sorted(Spot(wall, at, height) for at, (_, height) in found)


_MEMBERS = ("at", "height", "inward")


def measured(install: InstallRecord) -> dict[Spot, Reading]:
    """Return the newest reading of each mark since the crew came on site, doubted ones too."""
    rows = Reading.objects.filter(
        site=install.job.site_id, kind=Reading.Kind.BOW, measured_on__gte=install.started_on
    )
    return {
        Spot(one.wall, one.at_ticks or 0, one.height_ticks or 0): one
        for one in rows.order_by("measured_on", "pk")
    }


def unmeasured(install: InstallRecord) -> list[Spot]:
    """Return the marks that nobody has measured since the crew came on site."""
    known = measured(install)
    return [spot for spot in spots_of(install.job) if spot not in known]
