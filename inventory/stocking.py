"""Find or make the place where something is put."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from inventory.errors import LotConflictError, UnknownPartError
from inventory.models import Bin, Lot, Offcut, Part, StockLength, StockLevel


def place_for(
    branch_pk: int, part: Part, *, length_ticks: int, lot_pk: int | None, bin_pk: int | None
) -> StockLevel | StockLength:
    """Return the (unlocked) place, made if need be. Offcuts have ``new_offcut``."""
    where: dict[str, Any] = {
        "branch_id": branch_pk,
        "part": part,
        "lot_id": lot_pk,
        "bin_id": bin_pk,
    }
    if part.is_bar:
        return StockLength.objects.get_or_create(**where, length_ticks=length_ticks)[0]
    return StockLevel.objects.get_or_create(**where)[0]


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
