"""Reasons as documents: ``visit-reasons/1`` of one job, ``crew-day-prices/1`` of a plan."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import Any

from contractor.engine.rostering.document import Crew, Half, Instance, Job, Pin
from contractor.engine.rostering.explaining import (
    Option,
    Unplanned,
    earliest_start,
    explain,
    slack_halfdays,
    why_not,
    why_unplanned,
)
from contractor.engine.rostering.legality import Obstacle
from contractor.engine.rostering.pins import pin_cost
from contractor.engine.rostering.plan_document import Visit
from contractor.engine.rostering.relief import crew_day_prices, reliefs

Document = dict[str, Any]


def reasons_document(instance: Instance, visits: Iterable[Visit], job: Job) -> Document:
    """Return everything there is to say about one job in a plan."""
    placed = tuple(visits)
    why = explain(instance, placed, job)
    pin = instance.pin_of.get(job.id)
    return {
        "schema": "visit-reasons/1",
        "job": job.id,
        "visit": None if why.chosen is None else _visit(why.chosen),
        "cost": {**asdict(why.parts), "total": why.parts.total},
        "alternatives": [
            {**_option(one), "extra": one.cost - why.parts.total} for one in why.alternatives
        ],
        "earliest_start": [
            {"what": one.what, "until": one.until.isoformat()}
            for one in earliest_start(instance, placed, job)
        ],
        "slack_halfdays": slack_halfdays(instance, placed, job),
        "pin": None if pin is None else _pin(instance, placed, pin),
        "unplanned": None
        if why.chosen is not None
        else _unplanned(why_unplanned(instance, placed, job)),
        "would_help": []
        if why.chosen is not None
        else [
            {"what": one.what, "size": one.size, **_option(one.option)}
            for one in reliefs(instance, placed, job)
        ],
    }


def why_not_document(
    instance: Instance, visits: Iterable[Visit], job: Job, start: tuple[Crew, Any, Half]
) -> Document:
    """Return why a job does not start with a crew on a half-day, or what that would cost."""
    found = why_not(instance, visits, job, *start)
    return {
        "is_legal": not found.obstacles,
        "obstacles": _obstacles(found.obstacles),
        "displaced": [
            {
                "job": one.job,
                "to": None if one.to is None else _visit(one.to),
                "extra": one.extra,
            }
            for one in found.displaced
        ],
        "extra": found.extra,
    }


def prices_document(
    instance: Instance, should_stop: Callable[[], bool] = lambda: False
) -> Document:
    """Return what one more crew-day would save, by branch and week (dual prices)."""
    rows = [
        {
            "branch": one.branch,
            "week": one.week,
            "most": round(one.most, 1),
            "mean": round(one.mean, 1),
        }
        for one in crew_day_prices(instance, should_stop)
    ]
    return {"schema": "crew-day-prices/1", "weeks": rows}


def _pin(instance: Instance, visits: tuple[Visit, ...], pin: Pin) -> Document:
    """Who pinned the job and why, whether the plan keeps it, and what it costs at least."""
    cost = pin_cost(instance, visits, pin)
    return {
        "owner": pin.owner,
        "reason": pin.reason,
        "is_kept": cost.is_kept,
        "cost_at_least": cost.cost_at_least,
    }


def _visit(visit: Visit) -> Document:
    return {
        "crew": visit.crew,
        "date": visit.date.isoformat(),
        "half": visit.half,
        "halfdays": visit.halfdays,
    }


def _option(option: Option) -> Document:
    return {
        "visit": _visit(option.visit),
        "cost": {**asdict(option.parts), "total": option.cost},
        "held_by": list(option.held_by),
    }


def _obstacles(found: Iterable[Obstacle]) -> list[Document]:
    return [{"code": one.code, "text": one.text} for one in found]


def _unplanned(found: Unplanned) -> Document:
    return {
        "crews": {name: _obstacles(rows) for name, rows in found.crews.items()},
        "starts_by_rule": found.starts_by_rule,
        "legal_starts": found.legal,
        "free_starts": found.free,
        "cheapest_free": None if found.cheapest_free is None else _option(found.cheapest_free),
        "left_out": {**asdict(found.left_out), "total": found.left_out.total},
    }
