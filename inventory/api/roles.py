"""Who may do what in the warehouse."""

from __future__ import annotations

from contractor.api.access import EVERYONE
from contractor.api.models import Role

READERS: frozenset[str] = EVERYONE - {Role.CREW}
STOCK: frozenset[str] = frozenset({Role.OWNER, Role.OFFICE, Role.WAREHOUSE})
BUYERS: frozenset[str] = frozenset({Role.OWNER, Role.OFFICE})
LOADERS: frozenset[str] = STOCK | {Role.CREW}
PEOPLE: frozenset[str] = EVERYONE
