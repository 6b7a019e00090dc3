"""The unit system of an answer: ``?units=us|si``, else the company's."""

from __future__ import annotations

from typing import cast

from rest_framework.request import Request

from contractor.api.access import Who
from contractor.api.refusals import InvalidParameterError
from contractor.engine.units import System


def system_of(request: Request, who: Who | None) -> System:
    """Return "us" or "si". Raises InvalidParameterError for another text."""
    asked = request.query_params.get("units")
    if asked in ("us", "si"):
        return cast(System, asked)
    if asked is not None:
        raise InvalidParameterError(
            "units is neither us nor si.", remedy="Use ?units=us or ?units=si.", parameter="units"
        )
    company = who.company if who else None
    return cast(System, company.units) if company else "us"
