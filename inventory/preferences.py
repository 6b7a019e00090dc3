"""What a company prefers at the saw: ``settings["cutting"]`` of the company.

``{"replan_extra_percent": 0.5}``: a plan that is made again may cost up to so much more than the
cheapest one, so that fewer of its bars change. Without it the cheapest plan is made.
"""

from __future__ import annotations

from contractor.api.models import Company
from contractor.engine.rostering.fields import Field

MOST_PERCENT = 10


def read_cutting(document: object) -> float:
    """Return the share of the cost that a re-plan may add, 0 to 0.1. Raises InputError."""
    field = Field(document)
    for name, member in field.items():
        if name != "replan_extra_percent":
            raise member.refuse(
                "unknown_field", f"There is no {name!r} here.", "Use replan_extra_percent."
            )
    extra = field.get("replan_extra_percent")
    return 0.0 if extra is None else extra.number(least=0, most=MOST_PERCENT) / 100


def replan_tolerance(company: Company) -> float:
    """Return the share that the company lets a re-plan add."""
    document = company.settings.get("cutting")
    return 0.0 if document is None else read_cutting(document)
