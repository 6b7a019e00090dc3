"""Refusals of this app."""

from __future__ import annotations

from contractor.errors import DomainError


class NobodyCertifiedError(DomainError):
    code = "nobody_certified"
    title = "No crew holds the certificates that this job needs"


class NoLegalVisitError(DomainError):
    code = "no_legal_visit"
    title = "This crew cannot do this job from that half-day on"


class OutdatedPlanError(DomainError):
    code = "outdated_plan"
    title = "What the plan was made from has changed"


class FaultyPlanError(DomainError):
    code = "faulty_plan"
    title = "The independent checker found a fault in the computed plan"
    status = 500


class CrewBusyError(DomainError):
    code = "crew_busy"
    title = "The crew has another visit then"
