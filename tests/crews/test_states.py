from __future__ import annotations

from contractor.crews import states
from contractor.crews.models import CrewPlan, Visit
from tests.states import walk_every_pair


def test_every_pair_of_plan_statuses() -> None:
    allowed = walk_every_pair(
        CrewPlan.Status.values, states.PLAN_MOVES, states.move_plan, lambda s: CrewPlan(status=s)
    )
    assert allowed == 9


def test_every_pair_of_visit_statuses() -> None:
    allowed = walk_every_pair(
        Visit.Status.values, states.VISIT_MOVES, states.move_visit, lambda s: Visit(status=s)
    )
    assert allowed == 6
