"""A crew plan and a re-plan in a few lines for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from contractor.engine.rostering.document import Instance
from contractor.engine.rostering.plan_document import InstallPlan

if TYPE_CHECKING:
    from contractor.engine.rostering.replan import Replan


def plan_summary(instance: Instance, plan: InstallPlan) -> str:
    """Jobs planned, cost, bound, gap, and the best dispatch rule beside it."""
    left_out = len(instance.jobs) - len(plan.visits)
    lines = [
        f"{len(plan.visits)} of {len(instance.jobs)} jobs planned for {len(instance.crews)} "
        f"crews, {left_out} left out; {_figures(plan)}"
    ]
    if plan.rule_cost:
        share = plan.cost / plan.rule_cost
        lines.append(
            f"best of eight dispatch rules: {plan.rule}, cost {plan.rule_cost}; "
            f"this plan costs {share:.0%} of that"
        )
    return "\n".join(lines)


def replan_summary(found: Replan) -> str:
    """What changed for whom and why, promised visits first, the rest apart."""
    least = (
        "no plan moves fewer"
        if found.is_fewest_proven and found.moves == found.fewest
        else (f"at least {found.fewest} must" if found.is_fewest_proven else "not proven least")
    )
    lines = [
        f"{found.moves} promised visits changed ({least}), {len(found.untouched)} untouched; "
        f"{_figures(found.plan)}"
    ]
    for job, change in (found.plan.changes or {}).items():
        lines.append(f"  {job} {change.what}: {change.cause}")
    for job, change in found.tentative.items():
        lines.append(f"  not confirmed: {job} {change.what}: {change.cause}")
    if found.added:
        lines.append(f"  newly planned: {', '.join(found.added)}")
    return "\n".join(lines)


def _figures(plan: InstallPlan) -> str:
    proof = "proven cheapest" if plan.proven else f"gap {plan.gap:.2%}"
    return f"cost {plan.cost}, bound {plan.bound}, {proof}; {plan.seconds:.1f} s, seed {plan.seed}"
