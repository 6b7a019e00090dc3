"""Rows that all apps share: tenants, users and roles, tokens, events."""

from contractor.api.models.base import Versioned
from contractor.api.models.events import Event
from contractor.api.models.tenants import Branch, Company, Membership, Role, User

__all__ = ["Branch", "Company", "Event", "Membership", "Role", "User", "Versioned"]
