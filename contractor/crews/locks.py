"""All row locks of this app.

Order: branch, crew plan, service plan, visits by pk, service visits by pk, then jobs' own locks.
"""

from __future__ import annotations

from typing import TypeVar

from contractor.api.models import Branch
from contractor.crews.models import CrewPlan, Member, Proposal, ServiceVisit, Visit
from contractor.errors import NotFoundError

Plan = TypeVar("Plan", bound=Proposal)


def lock_branch(pk: int) -> Branch:
    """Lock a branch: one plan of a branch is published at a time."""
    branch = Branch.objects.select_for_update().filter(pk=pk).first()
    if branch is None:
        raise NotFoundError(f"There is no branch {pk}.")
    return branch


def lock_proposal(model: type[Plan], pk: int) -> Plan:
    """Lock a crew plan or a service plan."""
    plan = model._default_manager.select_for_update(of=("self",)).filter(pk=pk).first()
    if plan is None:
        raise NotFoundError(f"There is no {model._meta.verbose_name} {pk}.")
    return plan


def lock_plan(pk: int) -> CrewPlan:
    return lock_proposal(CrewPlan, pk)


def lock_visit(pk: int) -> Visit:
    visit = Visit.objects.select_for_update(of=("self",)).filter(pk=pk).first()
    if visit is None:
        raise NotFoundError(f"There is no visit {pk}.")
    return visit


def lock_service_visit(pk: int) -> ServiceVisit:
    visit = ServiceVisit.objects.select_for_update(of=("self",)).filter(pk=pk).first()
    if visit is None:
        raise NotFoundError(f"There is no service visit {pk}.")
    return visit


def lock_member(pk: int) -> Member:
    member = Member.objects.select_for_update(of=("self",)).filter(pk=pk).first()
    if member is None:
        raise NotFoundError(f"There is no member {pk}.")
    return member


def lock_open_visits(branch: Branch) -> list[Visit]:
    """Lock every tentative or confirmed visit of a branch, in order of pk."""
    open_ones = [Visit.Status.TENTATIVE, Visit.Status.CONFIRMED]
    rows = Visit.objects.select_for_update(of=("self",)).filter(branch=branch, status__in=open_ones)
    return list(rows.order_by("pk"))


def lock_open_service_visits(branch: Branch) -> list[ServiceVisit]:
    """Lock every tentative or confirmed service visit of a branch, in order of pk."""
    open_ones = [ServiceVisit.Status.TENTATIVE, ServiceVisit.Status.CONFIRMED]
    rows = ServiceVisit.objects.select_for_update(of=("self",)).filter(
        branch=branch, status__in=open_ones
    )
    return list(rows.order_by("pk"))
