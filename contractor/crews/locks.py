"""All row locks of this app. Order: branch, crew plan, visits by pk, then jobs' own locks."""

from __future__ import annotations

from contractor.api.models import Branch
from contractor.crews.models import CrewPlan, Visit
from contractor.errors import NotFoundError


def lock_branch(pk: int) -> Branch:
    """Lock a branch: one plan of a branch is published at a time."""
    branch = Branch.objects.select_for_update().filter(pk=pk).first()
    if branch is None:
        raise NotFoundError(f"There is no branch {pk}.")
    return branch


def lock_plan(pk: int) -> CrewPlan:
    plan = CrewPlan.objects.select_for_update().filter(pk=pk).first()
    if plan is None:
        raise NotFoundError(f"There is no crew plan {pk}.")
    return plan


def lock_visit(pk: int) -> Visit:
    visit = Visit.objects.select_for_update(of=("self",)).filter(pk=pk).first()
    if visit is None:
        raise NotFoundError(f"There is no visit {pk}.")
    return visit


def lock_open_visits(branch: Branch) -> list[Visit]:
    """Lock every tentative or confirmed visit of a branch, in order of pk."""
    open_ones = [Visit.Status.TENTATIVE, Visit.Status.CONFIRMED]
    rows = Visit.objects.select_for_update(of=("self",)).filter(branch=branch, status__in=open_ones)
    return list(rows.order_by("pk"))
