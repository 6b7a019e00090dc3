"""Rows that all apps share: tenants, users and roles, tokens, events, remembered answers."""

from contractor.api.models.audit import AuditEntry
from contractor.api.models.base import Audited, Versioned
from contractor.api.models.events import Event
from contractor.api.models.idempotency import RememberedAnswer
from contractor.api.models.runs import CalculationRun
from contractor.api.models.tenants import Branch, Company, Membership, Role, User
from contractor.api.models.tokens import Token
from contractor.api.models.webhooks import WebhookAttempt, WebhookDelivery, WebhookEndpoint

__all__ = [
    "AuditEntry",
    "Audited",
    "Branch",
    "CalculationRun",
    "Company",
    "Event",
    "Membership",
    "RememberedAnswer",
    "Role",
    "Token",
    "User",
    "Versioned",
    "WebhookAttempt",
    "WebhookDelivery",
    "WebhookEndpoint",
]
