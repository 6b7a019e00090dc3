"""Statuses of plans and visits and the moves between them; a test walks every pair."""

from __future__ import annotations

from contractor.api import states
from contractor.crews.models import Proposal, ServiceVisit, Visit

P, V = Proposal.Status, Visit.Status

PLAN_MOVES: dict[str, frozenset[str]] = {
    P.REQUESTED: frozenset({P.COMPUTING, P.DISCARDED}),
    P.COMPUTING: frozenset({P.PROPOSED, P.FAILED, P.DISCARDED}),
    P.PROPOSED: frozenset({P.PUBLISHED, P.DISCARDED}),
    P.PUBLISHED: frozenset({P.SUPERSEDED}),
    P.SUPERSEDED: frozenset(),
    P.FAILED: frozenset({P.DISCARDED}),
    P.DISCARDED: frozenset(),
}
VISIT_MOVES: dict[str, frozenset[str]] = {
    V.TENTATIVE: frozenset({V.CONFIRMED, V.CANCELLED, V.DONE}),
    V.CONFIRMED: frozenset({V.TENTATIVE, V.CANCELLED, V.DONE}),
    V.DONE: frozenset(),
    V.CANCELLED: frozenset(),
}


def move_plan(plan: Proposal, status: str) -> None:
    states.move(plan, status, PLAN_MOVES)


def move_visit(visit: Visit | ServiceVisit, status: str) -> None:
    """Both kinds of visits have the same statuses."""
    states.move(visit, status, VISIT_MOVES)
