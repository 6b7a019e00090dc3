"""When a company asks homeowners to re-tighten and to measure: the follow-up policy.

The defaults are common practice in the trade (no published source) and company-editable: more
often in the first year, then every half year, and once in the dry and once in the wet season,
when clay shrinks away from the wall and swells back against it.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass

from contractor.engine.errors import InputError
from contractor.engine.rostering.fields import Field

POLICY_SCHEMA = "follow-up-policy/1"
MOST_MONTHS = 600
LEAP_YEAR = 2024


@dataclass(frozen=True)
class Season:
    """A check that comes every year on ``month`` ``day``; 29 February means the last day."""

    name: str
    month: int
    day: int


@dataclass(frozen=True)
class FollowUpPolicy:
    """Months after the install, yearly seasons, and the month the follow-up ends.

    A season check within ``merge_days`` of another one joins it. While a wall moves, a reading
    is asked for every ``moving_interval_days``. InputError where a value makes no sense.
    """

    month_offsets: tuple[int, ...] = (1, 3, 6, 9, 12, 18, 24)
    seasons: tuple[Season, ...] = (Season("dry season", 8, 15), Season("wet season", 4, 15))
    end_months: int = 24
    merge_days: int = 21
    moving_interval_days: int = 30

    def __post_init__(self) -> None:
        for position, months in enumerate(self.month_offsets):
            _require(1, months, MOST_MONTHS, f"/month_offsets/{position}")
        if len(set(self.month_offsets)) != len(self.month_offsets):
            raise InputError(
                "repeated_month", "/month_offsets", "A month is listed twice.", "List it once."
            )
        for position, season in enumerate(self.seasons):
            _require(1, season.month, 12, f"/seasons/{position}/month")
            last = monthrange(LEAP_YEAR, season.month)[1]
            _require(1, season.day, last, f"/seasons/{position}/day")
        _require(1, self.end_months, MOST_MONTHS, "/end_months")
        _require(0, self.merge_days, 60, "/merge_days")
        _require(1, self.moving_interval_days, 366, "/moving_interval_days")


def _require(least: int, value: int, most: int, pointer: str) -> None:
    if not least <= value <= most:
        raise InputError(
            "number_out_of_range",
            pointer,
            f"{value} is outside {least} to {most}.",
            f"Write a whole number from {least} to {most}.",
        )


def read_policy(document: object) -> FollowUpPolicy:
    """Return the policy of a ``follow-up-policy/1`` document; absent members mean the default."""
    field = Field(document)
    field["schema"].one_of((POLICY_SCHEMA,))
    _refuse_unknown(field)
    defaults = FollowUpPolicy()
    months = field.get("month_offsets")
    seasons = field.get("seasons")
    return FollowUpPolicy(
        month_offsets=tuple(sorted(month.whole() for month in months.list()))
        if months is not None
        else defaults.month_offsets,
        seasons=tuple(_season(season) for season in seasons.list())
        if seasons is not None
        else defaults.seasons,
        end_months=_whole(field, "end_months", defaults.end_months),
        merge_days=_whole(field, "merge_days", defaults.merge_days),
        moving_interval_days=_whole(field, "moving_interval_days", defaults.moving_interval_days),
    )


def _refuse_unknown(field: Field) -> None:
    known = {"schema", *FollowUpPolicy.__dataclass_fields__}
    for name, member in field.items():
        if name not in known:
            raise member.refuse(
                "unknown_field", f"A policy has no {name!r}.", f"Use {', '.join(sorted(known))}."
            )


def _season(field: Field) -> Season:
    return Season(field["name"].text(), field["month"].whole(), field["day"].whole())


def _whole(field: Field, name: str, default: int) -> int:
    member = field.get(name)
    return default if member is None else member.whole()


def policy_document(policy: FollowUpPolicy) -> dict[str, object]:
    """Return ``policy`` as a ``follow-up-policy/1`` document that ``read_policy`` reads back."""
    return {
        "schema": POLICY_SCHEMA,
        "month_offsets": list(policy.month_offsets),
        "seasons": [
            {"name": season.name, "month": season.month, "day": season.day}
            for season in policy.seasons
        ],
        "end_months": policy.end_months,
        "merge_days": policy.merge_days,
        "moving_interval_days": policy.moving_interval_days,
    }
