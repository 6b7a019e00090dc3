"""Find or make the place where something is put."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar
from uuid import uuid4

from inventory.errors import LotConflictError, UnknownPartError
from inventory.models import Bin, Lot, Offcut, Part, StockLength, StockLevel

P = TypeVar("P", StockLevel, StockLength)


@dataclass(frozen=True)
class Spot:
    """Names a place at a branch: the part, a bar's length (0 for units), lot and bin."""

    part_pk: int
    length_ticks: int = 0
    lot_pk: int | None = None
    bin_pk: int | None = None


def place_for(
    branch_pk: int, part: Part, *, length_ticks: int, lot_pk: int | None, bin_pk: int | None
) -> StockLevel | StockLength:
    """Return the (unlocked) place, made if need be. Offcuts have ``new_offcut``."""
    spot = Spot(part.pk, length_ticks if part.is_bar else 0, lot_pk, bin_pk)
    return places_for(branch_pk, [spot])[spot]


def places_for(branch_pk: int, spots: Iterable[Spot]) -> dict[Spot, StockLevel | StockLength]:
    """Return spot -> (unlocked) place; those that are missing are made, each table at once."""
    wanted = list(dict.fromkeys(spots))
    bars = [spot for spot in wanted if spot.length_ticks]
    units = [spot for spot in wanted if not spot.length_ticks]
    found: dict[Spot, StockLevel | StockLength] = {}
    if units:
        found.update(_find_or_make(StockLevel, branch_pk, units))
    if bars:
        found.update(_find_or_make(StockLength, branch_pk, bars))
    return found


def _find_or_make(table: type[P], branch_pk: int, wanted: Sequence[Spot]) -> dict[Spot, P]:
    found = _known(table, branch_pk, wanted)
    missing = [spot for spot in wanted if spot not in found]
    if missing:
        rows = [_new_place(table, branch_pk, spot) for spot in missing]
        table._default_manager.bulk_create(rows, ignore_conflicts=True)
        found = _known(table, branch_pk, wanted)
    return {spot: found[spot] for spot in wanted}


def _known(table: type[P], branch_pk: int, wanted: Sequence[Spot]) -> dict[Spot, P]:
    parts = {spot.part_pk for spot in wanted}
    rows = table._default_manager.filter(branch_id=branch_pk, part_id__in=parts)
    return {
        Spot(row.part_id, getattr(row, "length_ticks", 0), row.lot_id, row.bin_id): row
        for row in rows
    }


def _new_place(table: type[P], branch_pk: int, spot: Spot) -> P:
    where: dict[str, Any] = {
        "branch_id": branch_pk,
        "part_id": spot.part_pk,
        "lot_id": spot.lot_pk,
        "bin_id": spot.bin_pk,
    }
    if spot.length_ticks:
        where["length_ticks"] = spot.length_ticks
    return table(**where)


def new_offcut(
    branch_pk: int,
    part: Part,
    *,
    length_ticks: int,
    at: datetime,
    lot_pk: int | None = None,
    bin_pk: int | None = None,
    tag: str = "",
) -> Offcut:
    """Make the row of a tagged remainder; the ledger entry that fills it comes next."""
    made = Offcut.objects.create(
        branch_id=branch_pk,
        part=part,
        lot_id=lot_pk,
        bin_id=bin_pk,
        length_ticks=length_ticks,
        made_at=at,
        tag=tag or uuid4().hex[:20],  # a placeholder until the pk is known
    )
    if not tag:
        made.tag = f"R{made.pk}"
        made.save(update_fields=["tag"])
    return made


def lot_for(part: Part, number: str, expires_on: date | None, received_on: date) -> Lot | None:
    """Return the lot of a delivery; a part that spoils always has one, dated by its shelf life.

    Raises LotConflictError when the lot is known with another expiry.
    """
    if part.shelf_life_days is not None and expires_on is None:
        expires_on = date.fromordinal(received_on.toordinal() + part.shelf_life_days)
    if not number and expires_on is None:
        return None
    number = number or f"until {expires_on}"
    lot, _ = Lot.objects.get_or_create(
        part=part, number=number, defaults={"expires_on": expires_on}
    )
    if lot.expires_on != expires_on:
        raise LotConflictError(
            f"Lot {number} of {part.code} is known with expiry {lot.expires_on}.",
            remedy="Check the label, or give the new batch its own number.",
        )
    return lot


def check_bin(branch_pk: int, bin_pk: int | None) -> None:
    """Refuse a bin of another branch."""
    if bin_pk is not None and not Bin.objects.filter(pk=bin_pk, branch_id=branch_pk).exists():
        raise UnknownPartError(f"There is no bin {bin_pk} at this branch.", remedy="Pick a bin.")
