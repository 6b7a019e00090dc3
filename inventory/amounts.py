"""Requests in the warehouse's words, checked before a row is touched."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from contractor.api.models import Branch
from contractor.engine.units import format_length
from contractor.errors import NotFoundError
from inventory.errors import BadQuantityError, UnknownPartError, WrongKindError
from inventory.models import Part

MOST = 10_000_000  # no contractor counts further; keeps sums inside 64 bits
MOST_TICKS = 64 * 12 * 200  # no bar is longer than 200 ft


@dataclass(frozen=True)
class Need:
    """``quantity`` units, or pieces of ``length_ticks`` out of bars."""

    part_pk: int
    quantity: int
    length_ticks: int = 0
    mark: str = ""
    kit_line_pk: int | None = None


@dataclass(frozen=True)
class Delivery:
    """``quantity`` units of use or bars of ``length_ticks``; or so many purchase ``packs``.

    ``cents`` is the cost of all of it. ``lot_number``: heat of steel or batch.
    """

    part_pk: int
    cents: int
    quantity: int = 0
    packs: int = 0
    length_ticks: int = 0
    lot_number: str = ""
    expires_on: date | None = None
    bin_pk: int | None = None
    order_line_pk: int | None = None


def check_quantity(quantity: int, pointer: str, *, least: int = 1) -> int:
    """Return a whole number of ``least`` or more; raises BadQuantityError."""
    if isinstance(quantity, bool) or not isinstance(quantity, int) or quantity < least:
        raise BadQuantityError(
            f"{quantity!r} is not a whole number of {least} or more.",
            remedy="Give how many there are.",
            pointer=pointer,
        )
    if quantity > MOST:
        raise BadQuantityError(
            f"{quantity} is more than {MOST} at once.", remedy="Check the number.", pointer=pointer
        )
    return quantity


def find_branch(branch_pk: int) -> Branch:
    branch = Branch.objects.filter(pk=branch_pk).first()
    if branch is None:
        raise NotFoundError(f"There is no branch {branch_pk}.")
    return branch


def find_parts(branch: Branch, part_pks: Iterable[int]) -> dict[int, Part]:
    """Return the company's parts by pk; raises UnknownPartError."""
    wanted = set(part_pks)
    parts = Part.objects.filter(company_id=branch.company_id, pk__in=wanted).in_bulk()
    if missing := sorted(wanted - set(parts)):
        raise UnknownPartError(
            f"There is no part {missing[0]} in this company.", remedy="Pick one of /parts/."
        )
    return parts


def check_length(part: Part, length_ticks: int, pointer: str) -> None:
    """Refuse a bar without length and another part with one; raises WrongKindError."""
    if part.is_bar and not 1 <= length_ticks <= MOST_TICKS:
        raise WrongKindError(
            f"{part.code} is a bar and needs a length up to {format_length(MOST_TICKS)}.",
            remedy="Give the length.",
            pointer=pointer,
        )
    if not part.is_bar and length_ticks:
        raise WrongKindError(
            f"{part.code} is stocked by {part.unit_of_use}, not by length.",
            remedy="Leave the length out.",
            pointer=pointer,
        )


def day_at(branch: Branch, at: datetime) -> date:
    """Return the calendar day of ``at`` at the branch."""
    return at.astimezone(ZoneInfo(branch.time_zone)).date()
