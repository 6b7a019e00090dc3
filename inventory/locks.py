"""All row locks of the warehouse, in one order.

Parents first: kits, then reservations, cutting plans, supplier orders, transfers; then
balances (the ledger's heads); then places: levels, lengths, offcuts. Within each table by pk.
Reserving takes no lock on places: its conditional updates go through places in that same order.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import TypeVar

from django.db import models

from contractor.errors import NotFoundError
from inventory.models import (
    Balance,
    CuttingPlan,
    Kit,
    Offcut,
    Place,
    Reservation,
    StockLength,
    StockLevel,
    SupplierOrder,
    Transfer,
)

M = TypeVar("M", bound=models.Model)
PlaceKey = tuple[int, int]
PLACE_TABLES: tuple[type[Place], ...] = (StockLevel, StockLength, Offcut)


def place_key(place: Place) -> PlaceKey:
    """Return (rank of the table, pk): the order in which places are locked."""
    return PLACE_TABLES.index(type(place)), place.pk


def _lock_one(model: type[M], pk: int) -> M:
    row = model._default_manager.select_for_update().filter(pk=pk).first()
    if row is None:
        raise NotFoundError(f"There is no {model._meta.verbose_name} {pk}.")
    return row


def lock_kit(pk: int) -> Kit:
    return _lock_one(Kit, pk)


def lock_kits(pks: Collection[int]) -> list[Kit]:
    kits = list(Kit.objects.select_for_update().filter(pk__in=pks).order_by("pk"))
    if missing := sorted(set(pks) - {kit.pk for kit in kits}):
        raise NotFoundError(f"There is no kit {missing[0]}.")
    return kits


def lock_reservation(pk: int) -> Reservation:
    return _lock_one(Reservation, pk)


def lock_holds_of(kits: Collection[Kit]) -> list[Reservation]:
    """Lock the held reservations of locked ``kits``."""
    held = Reservation.objects.filter(kit__in=kits, status=Reservation.Status.HELD)
    return list(held.select_for_update().order_by("pk"))


def lock_plan(pk: int) -> CuttingPlan:
    return _lock_one(CuttingPlan, pk)


def lock_order(pk: int) -> SupplierOrder:
    return _lock_one(SupplierOrder, pk)


def lock_transfer(pk: int) -> Transfer:
    return _lock_one(Transfer, pk)


def lock_balances(branch_pk: int, part_pks: Iterable[int]) -> dict[int, Balance]:
    """Lock (making them if need be) the ledger heads of parts at a branch: part pk -> head."""
    wanted = sorted(set(part_pks))
    heads = Balance.objects.filter(branch_id=branch_pk, part_id__in=wanted)
    known = set(heads.values_list("part_id", flat=True))
    Balance.objects.bulk_create(
        [Balance(branch_id=branch_pk, part_id=pk) for pk in wanted if pk not in known],
        ignore_conflicts=True,
    )
    return {head.part_id: head for head in heads.select_for_update().order_by("pk")}


def lock_places(keys: Iterable[PlaceKey]) -> dict[PlaceKey, Place]:
    """Lock places, tables in order and rows by pk."""
    wanted = sorted(set(keys))
    found: dict[PlaceKey, Place] = {}
    for rank, table in enumerate(PLACE_TABLES):
        pks = [pk for at, pk in wanted if at == rank]
        if pks:
            rows = table._default_manager.select_for_update().filter(pk__in=pks).order_by("pk")
            found.update({(rank, row.pk): row for row in rows})
    return found


def lock_bars(branch_pk: int, part_pk: int) -> list[Place]:
    """Lock all bars and offcuts of a part at a branch that are on hand."""
    found: list[Place] = []
    for table in (StockLength, Offcut):
        rows = table._default_manager.filter(branch_id=branch_pk, part_id=part_pk, on_hand__gt=0)
        found += list(rows.select_for_update().order_by("pk"))
    return found
