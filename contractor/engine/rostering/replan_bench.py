"""Re-plans of a bench plan: nothing happened, and the busiest crew is lost for three days."""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from contractor.engine.rostering.check import check_plan
from contractor.engine.rostering.document import Crew, Instance
from contractor.engine.rostering.events import Event
from contractor.engine.rostering.plan_document import InstallPlan, Visit, plan_to_document
from contractor.engine.rostering.replan import MODES, Mode, Replan, replan

MOST_SECONDS = 18.0
DAYS_LOST = 3
HEADINGS = (
    *("file", "event", "mode", "confirmed", "hit", "moved", "moved %"),
    *("fewest", "lost", "cost", "gap %", "wrong", "s"),
)


@dataclass(frozen=True)
class ReplanRow:
    """One re-plan. ``hit`` visits cannot stay, at least ``fewest`` must change."""

    name: str
    event: str
    mode: Mode
    confirmed: int
    hit: int
    moved: int
    fewest: int
    is_fewest_proven: bool
    lost: int
    cost: int
    gap: float
    violations: int
    seconds: float


def measure(
    name: str, document: dict[str, Any], instance: Instance, before: InstallPlan, seconds: float
) -> list[ReplanRow]:
    """Re-plan ``before`` in both modes, every visit confirmed."""
    sick = busiest_three_days(instance, before.visits)
    cases: list[tuple[str, list[Event]]] = [("none", [])]
    if sick is not None:
        cases.append(("crew lost", [sick]))
    rows = []
    for event, events in cases:
        for mode in MODES:
            limit = min(seconds, MOST_SECONDS)
            found = replan(instance, before.visits, events, mode=mode, seconds=limit, seed=1)
            hit = sum(len(hit_visits(instance, before.visits, one)) for one in events)
            wrong = len(check_plan(_after(document, before, events), plan_to_document(found.plan)))
            rows.append(_row((name, event, mode), before, hit, found, wrong))
    return rows


def _row(
    case: tuple[str, str, Mode], before: InstallPlan, hit: int, found: Replan, wrong: int
) -> ReplanRow:
    return ReplanRow(
        *case,
        confirmed=len(before.visits),
        hit=hit,
        moved=found.moves,
        fewest=found.fewest,
        is_fewest_proven=found.is_fewest_proven,
        lost=sum(change.what == "lost" for change in (found.plan.changes or {}).values()),
        cost=found.plan.cost,
        gap=found.plan.gap,
        violations=wrong,
        seconds=found.plan.seconds,
    )


def busiest_three_days(instance: Instance, visits: Iterable[Visit]) -> Event | None:
    """The crew and three working days in a row whose loss hits most visits; the first such."""
    every, best, most = tuple(visits), None, 0
    for crew in instance.crews:
        for event in _losses(instance, crew):
            hit = len(hit_visits(instance, every, event))
            if hit > most:
                best, most = event, hit
    return best


def _losses(instance: Instance, crew: Crew) -> list[Event]:
    days = instance.calendar_of(crew).days
    return [
        Event("crew_absent", crew.id, first, last)
        for first, last in zip(days, days[DAYS_LOST - 1 :], strict=False)
    ]


def hit_visits(instance: Instance, visits: Iterable[Visit], event: Event) -> list[Visit]:
    """The visits of the absent crew that work on one of the days."""
    assert event.first is not None and event.last is not None
    calendar = instance.calendar_of(instance.crew_of[event.about])
    found = []
    for visit in visits:
        if visit.crew != event.about:
            continue
        first = calendar.index_of[visit.date]
        last = first + (visit.halfdays - 1 + (visit.half == "pm")) // 2
        if visit.date <= event.last and calendar.days[last] >= event.first:
            found.append(visit)
    return found


def _after(document: dict[str, Any], before: InstallPlan, events: list[Event]) -> dict[str, Any]:
    """The raw document with every visit confirmed and the crews away, for the checker."""
    after = copy.deepcopy(document)
    told = {one.job: one for one in before.visits}
    for job in after["jobs"]:
        visit = told.get(job["id"])
        if visit is not None:
            slot = {"crew": visit.crew, "date": visit.date.isoformat(), "half": visit.half}
            job["confirmed"] = slot
    for crew in after["crews"]:
        for event in events:
            if event.about == crew["id"]:
                away = {"first": str(event.first), "last": str(event.last), "half": None}
                crew["absences"].append(away)
    return after


def cells_of(rows: list[ReplanRow]) -> list[tuple[str, ...]]:
    """The rows as the cells of a table under ``HEADINGS``."""
    return [
        (
            *(row.name, row.event, row.mode, str(row.confirmed), str(row.hit), str(row.moved)),
            f"{100 * row.moved / max(1, row.confirmed):.1f}",
            f"{row.fewest}{'' if row.is_fewest_proven else ' ?'}",
            *(str(row.lost), str(row.cost), f"{100 * row.gap:.2f}", str(row.violations)),
            f"{row.seconds:.1f}",
        )
        for row in rows
    ]


def documents(rows: list[ReplanRow]) -> list[dict[str, object]]:
    return [asdict(row) for row in rows]
