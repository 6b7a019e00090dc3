"""Public holidays that a branch may confirm: proposals, never taken over by themselves.

US federal holidays are those of 5 U.S.C. 6103(a). On a Saturday the Friday before is free
(6103(b)(1)), on a Sunday the Monday after (Executive Order 11582, section 3).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from contractor.engine.errors import InputError

OBSERVED = " (observed)"


@dataclass(frozen=True)
class HolidayProposal:
    """``is_observed``: the free weekday that stands for a holiday on a weekend."""

    day: date
    name: str
    is_observed: bool


# States, districts and territories that the library ``holidays`` keeps a list for.
_PLACES = """
AK AL AR AS AZ CA CO CT DC DE FL GA GU HI IA ID IL IN KS KY LA MA MD ME MI MN MO MP MS MT NC ND NE
NH NJ NM NV NY OH OK OR PA PR RI SC SD TN TX UM UT VA VI VT WA WI WV WY
"""
US_PLACES = tuple(_PLACES.split())


def holiday_proposals(
    year: int, country: str = "US", subdivision: str | None = None
) -> tuple[HolidayProposal, ...]:
    """Return the public holidays of ``year`` in order of date, observed days beside the others.

    ``subdivision`` is the state code; its holidays come with the federal ones. InputError
    ``unknown_country`` or ``unknown_subdivision`` where the list does not exist.
    """
    import holidays

    known = holidays.list_supported_countries(include_aliases=False)
    if country not in known:
        raise InputError(
            "unknown_country",
            "/country",
            f"There is no holiday list for {country!r}.",
            "Give a two-letter country code, or enter the holidays by hand.",
        )
    if subdivision is not None and subdivision not in known[country]:
        raise InputError(
            "unknown_subdivision",
            "/subdivision",
            f"{country} has no holiday list for {subdivision!r}.",
            "Give the state code, or leave it out.",
        )
    found = holidays.country_holidays(
        country, subdiv=subdivision, years=year, observed=True, language="en_US"
    )
    return tuple(
        HolidayProposal(day, name.replace(OBSERVED, ""), name.endswith(OBSERVED))
        for day, names in sorted(found.items())
        for name in sorted(names.split("; "))
        if day.year == year
    )


def federal_holidays(first_year: int, last_year: int) -> frozenset[date]:
    """Return the days on which US federal offices are closed, for optional quiet days."""
    years = range(first_year, last_year + 1)
    return frozenset(proposal.day for year in years for proposal in holiday_proposals(year))
