"""What the homeowner's page shows: steps, torque, places to measure, charts, the next date."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any

from django.utils import formats, translation

from contractor.engine import units
from contractor.engine.followup.tightening import TighteningStep, next_step
from jobs import queries
from jobs.models import BraceRecord, HomeownerLink, InstallRecord, Job, Reading
from jobs.pages.chart import chart_of, value_text
from jobs.pages.words import NAMES, words_of
from jobs.services import followup, homeowner, links, readings

MOST_PLACES = 12


@dataclass(frozen=True)
class Place:
    """One spot of a wall that was measured before; ``name`` is that of its input."""

    name: str
    wall: str
    kind: str
    at_ticks: int
    height_ticks: int
    last_ticks: int


@dataclass
class Caller:
    """Whose page it is: the link, the language, the moment."""

    link: HomeownerLink
    token: str
    language: str
    at: datetime

    @property
    def job(self) -> Job:
        return self.link.job

    @property
    def principal(self) -> str:
        return f"link:{self.link.pk}"

    @cached_property
    def words(self) -> dict[str, str]:
        return words_of(self.language)

    @cached_property
    def today(self) -> date:
        return homeowner.local_day(self.job, self.at)

    @property
    def system(self) -> units.System:
        return "si" if self.job.branch.company.units == "si" else "us"

    @cached_property
    def install(self) -> InstallRecord | None:
        return InstallRecord.objects.filter(job=self.job).first()

    @cached_property
    def braces(self) -> list[BraceRecord]:
        return list(self.install.braces.order_by("pk")) if self.install else []

    @cached_property
    def walls(self) -> list[str]:
        return list(self.job.walls.order_by("pk").values_list("wall", flat=True))

    @cached_property
    def places(self) -> list[Place]:
        """Return the spots measured before, newest reading each, at most twelve."""
        rows = self.job.site.readings.filter(wall__in=self.walls, doubt="")
        newest: dict[tuple[str, str, int, int], int] = {}
        for one in rows.exclude(kind=Reading.Kind.TORQUE).order_by("measured_on", "pk"):
            spot = (one.wall, one.kind, one.at_ticks or 0, one.height_ticks or 0)
            newest[spot] = one.value_ticks or 0
        return [
            Place(f"place-{number}", *spot, last_ticks=value)
            for number, (spot, value) in enumerate(sorted(newest.items())[:MOST_PLACES])
        ]

    @cached_property
    def is_on_hold(self) -> bool:
        return queries.is_on_hold(self.job)

    def day_text(self, day: date) -> str:
        with translation.override(self.language):
            return formats.date_format(day, "DATE_FORMAT")

    def torque_text(self, torque_lbf_ft: float) -> str:
        """Return what a wrench can be set to: N·m in whole numbers, rounded down."""
        if self.system == "si":
            value = units.write_quantity(torque_lbf_ft, "lbf ft", "si")["value"]
            return f"{math.floor(value)} N·m"
        return f"{torque_lbf_ft:g} ft-lb"


def page_facts(caller: Caller) -> dict[str, Any]:
    """Return everything but the forms."""
    job, words = caller.job, caller.words
    other = "es" if caller.language == "en" else "en"
    return {
        "w": words,
        "lang": caller.language,
        "other_lang": other,
        "other_name": NAMES[other],
        "company": job.branch.company.name,
        "phone": links.office_phone(job),
        "site": job.site.label,
        "hold": caller.is_on_hold,
        "steps": [words[f"do_{n}"].format(turn=_turn_text(caller)) for n in range(1, 6)],
        "stops": [words[f"stop_{n}"] for n in range(1, 7)],
        "picture": [words[f"picture_{n}"] for n in range(1, 5)],
        "braces": [_brace(caller, brace) for brace in caller.braces],
        "many_walls": len(caller.walls) > 1,
        "charts": _charts(caller),
        "next_text": _next_text(caller),
        "channel_now": words[f"channel_now_{_channel(job)}"],
        "has_channel": _channel(job) != "none",
    }


def _next_text(caller: Caller) -> str:
    """Return the next date; a wall on hold has none before somebody has seen it."""
    if caller.is_on_hold:
        return caller.words["next_hold"]
    due = homeowner.next_date(caller.job, caller.today)
    if due is None:
        return caller.words["next_none"]
    return caller.words["next_on"].format(day=caller.day_text(due))


def _turn_text(caller: Caller) -> str:
    return caller.words[f"turn_{followup.step_policy_of(caller.job).turn}"]


def _channel(job: Job) -> str:
    live = job.site.customer.consents.filter(revoked_at__isnull=True, is_stopped=False)
    consent = live.order_by("-granted_at", "-pk").first()
    return consent.channel if consent else "none"


def _brace(caller: Caller, brace: BraceRecord) -> dict[str, Any]:
    step = _step(caller, brace)
    if step is None or step.advice == "stop_and_call" or step.wrench_lbf_ft is None:
        advice = "leave" if step is not None and step.advice == "leave" else "call_first"
        set_to = caller.words[advice]
    else:
        set_to = caller.torque_text(step.wrench_lbf_ft)
    limit = _limit(brace)
    return {
        "mark": brace.mark,
        "wall": brace.wall,
        "set_to": set_to,
        "never_more": "" if limit is None else caller.torque_text(limit),
    }


def _limit(brace: BraceRecord) -> float | None:
    if brace.torque_lbf_ft is None:
        return None
    return min(brace.torque_lbf_ft, brace.torque_limit_lbf_ft)


def _step(caller: Caller, brace: BraceRecord) -> TighteningStep | None:
    """Return the step from what was recorded and last found; None where nobody recorded."""
    if brace.torque_lbf_ft is None:
        return None
    found = caller.job.site.readings.filter(
        wall=brace.wall, mark=brace.mark, kind=Reading.Kind.TORQUE, doubt=""
    )
    last = found.order_by("-measured_on", "-pk").first()
    is_over = last is not None and (last.torque_lbf_ft or 0) > brace.torque_lbf_ft * 1.04
    return next_step(
        recorded_lbf_ft=brace.torque_lbf_ft,
        screening_limit_lbf_ft=brace.torque_limit_lbf_ft,
        found_lbf_ft=last.torque_lbf_ft if last is not None and is_over else None,
        policy=followup.step_policy_of(caller.job),
    )


def _charts(caller: Caller) -> list[dict[str, Any]]:
    found = []
    for wall in caller.walls:
        movement = readings.movement_of(caller.job.site, wall, caller.system)
        if movement is not None:
            found.append(_chart(caller, wall, movement))
    return found


def _chart(caller: Caller, wall: str, movement: dict[str, Any]) -> dict[str, Any]:
    chart, words = chart_of(movement), caller.words
    verdict = words["v_" + chart.verdict.replace(" ", "_")]
    alt = words["chart_alt"].format(
        name=words[chart.kind].lower(),
        wall=wall,
        count=len(chart.rows),
        first=caller.day_text(chart.first),
        last=caller.day_text(chart.last),
        verdict=verdict,
    )
    return {
        "wall": wall,
        "drawing": chart,
        "alt": alt,
        "verdict": verdict,
        "is_moving": chart.verdict == "moving in",
        "first": f"{chart.first:%m/%Y}",
        "last": f"{chart.last:%m/%Y}",
        "rows": [(caller.day_text(day), text) for day, text in chart.rows],
    }


def place_label(caller: Caller, place: Place) -> str:
    text = caller.words["place"].format(
        kind=caller.words[place.kind],
        at=_length_text(caller, place.at_ticks),
        height=_length_text(caller, place.height_ticks),
    )
    return f"{place.wall}: {text}" if len(caller.walls) > 1 else text


def last_text(caller: Caller, place: Place) -> str:
    inches = place.last_ticks / units.TICKS_PER_INCH
    is_metric = caller.system == "si"
    value = value_text(inches * 25.4 if is_metric else inches, is_metric)
    return caller.words["last_was"].format(value=value)


def _length_text(caller: Caller, ticks: int) -> str:
    return str(units.write_length(ticks, caller.system)["text"])
