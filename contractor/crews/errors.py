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


class AlreadyPinnedError(DomainError):
    code = "already_pinned"
    title = "This job is pinned already"


class NoServiceWorkError(DomainError):
    code = "no_service_work"
    title = "There is nobody to send, or nothing to do, on these days"


class NoAnswerInTimeError(DomainError):
    code = "no_answer_in_time"
    title = "The time was not enough for this explanation"
    status = 503
