"""The checker of crew plans: a sound plan passes, every planted fault raises its own code."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from contractor.engine.rostering import check, check_cost, check_reading
from contractor.engine.rostering.check import check_plan, recompute_cost
from contractor.engine.rostering.optimize import plan
from contractor.engine.rostering.plan_document import plan_to_document
from contractor.engine.rostering.reading import read_instance
from tests.engine.rostering.small import Document, crew, day, instance, job

Change = Callable[[Document, Document], object]


def sound() -> tuple[Document, Document]:
    """Return an instance of two crews and two jobs, and its proven plan."""
    given = instance(
        [crew("C0"), crew("C1", size=3)],
        [job("J0", skills=["lead_safe"]), job("J1", labour_h=15.0, xy=[0.0, 12.0])],
        pins=[],
    )
    return given, plan_to_document(plan(read_instance(given), rounds=20, seed=1))


def test_sound_plan_passes() -> None:
    given, answer = sound()
    assert check_plan(given, answer) == []
    assert answer["proven"] is True


def visit(answer: Document, name: str = "J0") -> Document:
    entry: Document = answer["plan"][name]
    return entry


def of(given: Document, what: str, name: str) -> Document:
    row: Document = next(row for row in given[what] if row["id"] == name)
    return row


def same_place_twice(given: Document, answer: Document) -> None:
    visit(answer, "J1").update(visit(answer, "J0"), halfdays=visit(answer, "J1")["halfdays"])


FAULTS: dict[str, Change] = {
    "not_a_plan": lambda g, a: a.update(schema="install-plan/2"),
    "unknown_job": lambda g, a: a["plan"].update(J9=visit(a)),
    "unknown_crew": lambda g, a: visit(a).update(crew="C9"),
    "bad_date": lambda g, a: visit(a).update(date="2026-13-01"),
    "bad_half": lambda g, a: visit(a).update(half="night"),
    "bad_halfdays": lambda g, a: visit(a).update(halfdays=0),
    "not_a_working_day": lambda g, a: visit(a).update(date=day(5)),
    "wrong_halfdays": lambda g, a: visit(a).update(halfdays=visit(a)["halfdays"] + 1),
    "too_long": lambda g, a: g.update(max_halfdays=0),
    "too_far": lambda g, a: g.update(max_drive_min=1),
    "crew_too_small": lambda g, a: of(g, "jobs", "J0").update(min_size=9),
    "over_payload": lambda g, a: of(g, "jobs", "J0").update(weight_kg=99_999),
    "skill_missing": lambda g, a: of(g, "jobs", "J0").update(skills=["welding"]),
    "skill_expired": lambda g, a: [c["skills"].update(lead_safe=day(-1)) for c in g["crews"]],
    "even_starts_pm": lambda g, a: visit(a, "J1").update(half="pm"),
    "before_today": lambda g, a: g.update(today=day(14)),
    "before_horizon": lambda g, a: g.update(first_day=day(14)),
    "before_material": lambda g, a: of(g, "jobs", "J0").update(material_ready=day(14)),
    "before_permit": lambda g, a: of(g, "jobs", "J0").update(permit_release=day(14)),
    "after_horizon": lambda g, a: visit(a).update(date=day(21)),
    "weekday_not_allowed": lambda g, a: of(g, "jobs", "J0").update(weekdays=[6]),
    "in_blackout": lambda g, a: of(g, "jobs", "J0").update(blackout=[[day(0), day(18)]]),
    "crew_absent": lambda g, a: [
        c["absences"].append({"first": day(0), "last": day(18), "half": None}) for c in g["crews"]
    ],
    "pin_broken": lambda g, a: g["pins"].append({"job": "J0", "crew": None, "date": day(9)}),
    "double_booked": same_place_twice,
    "wrong_cost": lambda g, a: a.update(cost=a["cost"] + 1),
    "bound_above_cost": lambda g, a: a.update(bound=a["cost"] + 1),
    "wrong_gap": lambda g, a: a.update(gap=0.5),
    "proof_missing": lambda g, a: a.update(bound=a["cost"] - 1, gap=1 / a["cost"]),
}


@pytest.mark.parametrize("code", sorted(FAULTS))
def test_planted_fault_raises_its_own_code(code: str) -> None:
    given, answer = copy.deepcopy(sound())
    FAULTS[code](given, answer)
    assert code in {violation.code for violation in check_plan(given, answer)}


def test_every_code_has_a_planted_fault() -> None:
    """The codes are read out of the checker's own sources."""
    import inspect
    import re

    sources = "".join(inspect.getsource(module) for module in (check, check_cost, check_reading))
    named = set(re.findall(r"Violation\(\s*\"([a-z_]+)\"", sources)) | set(check._RULES)
    assert named == set(FAULTS)


def test_cost_by_hand() -> None:
    """Drive 10 km x 1.2 / 60 km/h = 12 min one way; 6 h for 2 people at 3.8 h/half-day in reach.

    6 / (2 x (4 - 12/120)) = 0.77, so one half-day. Travel 2 x 12 min x 1 day = 24. Due Friday
    (day 4); a start on Tuesday of the next week (day 8, morning) ends 3 working half-days late
    (Monday both, Tuesday morning): 3 x 60 x 2 = 360.
    """
    given = instance([crew("C0")], [job("J0")])
    late: dict[str, Any] = {"crew": "C0", "date": day(8), "half": "am", "halfdays": 1}
    assert recompute_cost(given, {"plan": {"J0": late}}) == 24 + 360
    assert recompute_cost(given, {"plan": {"J0": {**late, "date": day(0)}}}) == 24
    # Not planned: 1000 + 120 x (20 working half-days after day 4 up to day 18, plus 20).
    assert recompute_cost(given, {"plan": {}}) == 1000 + 120 * (20 + 20)


def test_cost_of_a_change_by_hand() -> None:
    """Confirmed Wednesday with C1, now Friday with C0: 100 + 500 + 2 working days x 50."""
    agreed = {"crew": "C1", "date": day(2), "half": "am"}
    given = instance([crew("C0"), crew("C1")], [job("J0", confirmed=agreed)])
    moved = {"crew": "C0", "date": day(4), "half": "am", "halfdays": 1}
    assert recompute_cost(given, {"plan": {"J0": moved}}) == 24 + 100 + 500 + 2 * 50
