"""service-visits/1 documents in, visit-plan/1 documents out."""

from __future__ import annotations

import re

from contractor.engine.errors import InputError
from contractor.engine.rostering.fields import Field
from contractor.engine.rostering.routing_visits import (
    MemberDay,
    Visit,
    VisitPlan,
    VisitProblem,
    VisitWindow,
    obstacle,
)

SCHEMA = "service-visits/1"
PLAN_SCHEMA = "visit-plan/1"
MOST_VISITS = 2000
MOST_WINDOWS = 40
MOST_COST = 10**7
CLOCK = re.compile(r"([01]\d|2[0-4]):([0-5]\d)\Z")
LAST_MINUTE = 24 * 60


def read_visits(document: object) -> VisitProblem:
    """Return the problem of a service-visits/1 document; InputError where it cannot be planned."""
    root = Field(document)
    root["schema"].one_of((SCHEMA,))
    places = tuple(field.text() for field in root["places"].list())
    numbers = {place: number for number, place in enumerate(places)}
    if len(numbers) != len(places):
        raise root["places"].refuse("repeated_id", "A place comes twice.", "List it once.")
    member_days = tuple(_member_day(one, numbers) for one in _some(root["member_days"]))
    visits = tuple(_visit(one, numbers) for one in _some(root["visits"]))
    travel_min, name = root.get("travel_min"), root.get("name")
    problem = VisitProblem(
        places=places,
        minutes=_minutes(root["minutes"], len(places)),
        member_days=member_days,
        visits=visits,
        travel_min=1 if travel_min is None else travel_min.whole(most=10_000),
        name="" if name is None else name.text(),
    )
    _check(problem)
    return problem


def _some(field: Field) -> list[Field]:
    found = field.list()
    if not 1 <= len(found) <= MOST_VISITS:
        raise field.refuse(
            "number_out_of_range", f"{len(found)} entries.", f"Give 1 to {MOST_VISITS}."
        )
    return found


def _minutes(field: Field, size: int) -> tuple[tuple[int, ...], ...]:
    rows = [row.list() for row in field.list()]
    if len(rows) != size or any(len(row) != size for row in rows):
        raise field.refuse(
            "not_square", f"The table is not {size} x {size}.", "Give minutes between all places."
        )
    return tuple(tuple(one.whole(most=LAST_MINUTE) for one in row) for row in rows)


def _place(field: Field, numbers: dict[str, int]) -> int:
    name = field.text()
    if name not in numbers:
        raise field.refuse("unknown_place", f"{name!r} is no place of the list.", "Add it there.")
    return numbers[name]


def _clock(field: Field) -> int:
    match = CLOCK.match(field.text())
    minute = LAST_MINUTE + 1 if match is None else int(match[1]) * 60 + int(match[2])
    if minute > LAST_MINUTE:
        raise field.refuse("not_a_time", f"{field.value!r} is no time.", "Write HH:MM.")
    return minute


def _span(field: Field) -> tuple[int, int]:
    opens, closes = _clock(field["from"]), _clock(field["to"])
    if closes < opens:
        raise field["to"].refuse("window_empty", "It ends before it begins.", "Swap the two.")
    return opens, closes


def _words(field: Field | None) -> frozenset[str]:
    return frozenset() if field is None else frozenset(one.text() for one in field.list())


def _cost(field: Field | None) -> int:
    return 0 if field is None else field.whole(most=MOST_COST)


def _member_day(field: Field, numbers: dict[str, int]) -> MemberDay:
    opens, closes = _span(field)
    longest = field.get("max_minutes")
    return MemberDay(
        member=field["member"].text(),
        day=field["day"].day(),
        start=_place(field["start"], numbers),
        end=_place(field["end"], numbers),
        opens=opens,
        closes=closes,
        skills=_words(field.get("skills")),
        max_minutes=None if longest is None else longest.whole(least=1, most=LAST_MINUTE),
        day_cost=_cost(field.get("day_cost")),
    )


def _visit(field: Field, numbers: dict[str, int]) -> Visit:
    windows = field["windows"].list()
    if not 1 <= len(windows) <= MOST_WINDOWS:
        raise field["windows"].refuse(
            "number_out_of_range", f"{len(windows)} windows.", f"Give 1 to {MOST_WINDOWS}."
        )
    members, missed = field.get("members"), field.get("missed_cost")
    visit = Visit(
        id=field["id"].text(),
        place=_place(field["place"], numbers),
        minutes=field["minutes"].whole(most=LAST_MINUTE),
        windows=tuple(_window(window) for window in windows),
        skills=_words(field.get("skills")),
        members=None if members is None else _words(members),
        missed_cost=None if missed is None else missed.whole(most=MOST_COST),
    )
    for number, window in enumerate(visit.windows):
        if visit.missed_cost is not None and window.cost > visit.missed_cost:
            raise (
                field["windows"]
                .list()[number]
                .refuse(
                    "window_dearer_than_missing",
                    f"Taking it costs {window.cost}, missing the visit {visit.missed_cost}.",
                    "Leave the window out.",
                )
            )
    return visit


def _window(field: Field) -> VisitWindow:
    opens, closes = _span(field)
    return VisitWindow(field["day"].day(), opens, closes, _cost(field.get("cost")))


def _check(problem: VisitProblem) -> None:
    seen: set[object] = set()
    for number, one in enumerate(problem.member_days):
        _once(seen, (one.member, one.day), f"/member_days/{number}")
    for number, visit in enumerate(problem.visits):
        _once(seen, visit.id, f"/visits/{number}/id")
        why = obstacle(problem, visit)
        if why is not None and visit.missed_cost is None:
            raise InputError(
                "visit_impossible",
                f"/visits/{number}",
                f"Visit {visit.id!r} must be made, but {why}.",
                "Widen its windows, send another member, or give it a missed_cost.",
            )


def _once(seen: set[object], key: object, pointer: str) -> None:
    if key in seen:
        raise InputError("repeated_id", pointer, "This comes twice.", "List it once.")
    seen.add(key)


def visit_plan_document(plan: VisitPlan) -> dict[str, object]:
    """Return ``plan`` as a visit-plan/1 document."""
    return {
        "schema": PLAN_SCHEMA,
        "stops": [
            {
                "visit": stop.visit,
                "member": stop.member,
                "day": stop.day.isoformat(),
                "arrive": clock_text(stop.arrive),
                "start": clock_text(stop.start),
                "finish": clock_text(stop.finish),
                "window": stop.window,
            }
            for stop in plan.stops
        ],
        "missed": [{"visit": one.visit, "reason": one.reason} for one in plan.missed],
        "cost": {
            "travel": plan.cost.travel,
            "days": plan.cost.days,
            "windows": plan.cost.windows,
            "missed": plan.cost.missed,
            "total": plan.cost.total,
        },
        "travel_minutes": plan.travel_minutes,
        "feasible": plan.is_feasible,
        "seconds": round(plan.seconds, 3),
        "seed": plan.seed,
        "engine": plan.engine,
        "iterations": plan.iterations,
    }


def clock_text(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"
