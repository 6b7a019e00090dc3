"""What may become of a kit, a hold, an order, a transfer, a cutting plan."""

from __future__ import annotations

from contractor.api.states import Moves, move
from inventory.models import CuttingPlan, Kit, Reservation, SupplierOrder, Transfer

__all__ = [
    "KIT_MOVES",
    "ORDER_MOVES",
    "PLAN_MOVES",
    "RESERVATION_MOVES",
    "TRANSFER_MOVES",
    "move_kit",
    "move_order",
    "move_plan",
    "move_reservation",
    "move_transfer",
]

_K = Kit.Status
KIT_MOVES: Moves = {
    _K.OPEN: frozenset({_K.RESERVED, _K.CANCELLED}),
    _K.RESERVED: frozenset({_K.OPEN, _K.PULLING}),
    _K.PULLING: frozenset({_K.OPEN, _K.STAGED}),
    _K.STAGED: frozenset({_K.OPEN, _K.LOADED}),
    _K.LOADED: frozenset({_K.USED, _K.RETURNED}),
    _K.USED: frozenset(),
    _K.RETURNED: frozenset(),
    _K.CANCELLED: frozenset(),
}

_R = Reservation.Status
RESERVATION_MOVES: Moves = {
    _R.HELD: frozenset({_R.RELEASED, _R.EXPIRED, _R.CONSUMED}),
    _R.RELEASED: frozenset(),
    _R.EXPIRED: frozenset(),
    _R.CONSUMED: frozenset(),
}

_O = SupplierOrder.Status
ORDER_MOVES: Moves = {
    _O.DRAFT: frozenset({_O.PLACED, _O.CANCELLED}),
    _O.PLACED: frozenset({_O.PARTLY_RECEIVED, _O.RECEIVED, _O.CANCELLED}),
    _O.PARTLY_RECEIVED: frozenset({_O.PARTLY_RECEIVED, _O.RECEIVED, _O.CANCELLED}),
    _O.RECEIVED: frozenset(),
    _O.CANCELLED: frozenset(),
}

_T = Transfer.Status
TRANSFER_MOVES: Moves = {_T.IN_TRANSIT: frozenset({_T.ARRIVED}), _T.ARRIVED: frozenset()}

_P = CuttingPlan.Status
PLAN_MOVES: Moves = {
    _P.REQUESTED: frozenset({_P.DRAFT, _P.REFUSED, _P.CANCELLED}),
    _P.DRAFT: frozenset({_P.DRAFT, _P.FROZEN, _P.CANCELLED}),
    _P.FROZEN: frozenset({_P.FROZEN, _P.DONE}),
    _P.DONE: frozenset({_P.FROZEN}),  # a piece scrapped after the last bar reopens the plan
    _P.REFUSED: frozenset(),
    _P.CANCELLED: frozenset(),
}


def move_kit(kit: Kit, status: str) -> None:
    move(kit, status, KIT_MOVES)


def move_reservation(reservation: Reservation, status: str) -> None:
    move(reservation, status, RESERVATION_MOVES)


def move_order(order: SupplierOrder, status: str) -> None:
    move(order, status, ORDER_MOVES)


def move_transfer(transfer: Transfer, status: str) -> None:
    move(transfer, status, TRANSFER_MOVES)


def move_plan(plan: CuttingPlan, status: str) -> None:
    move(plan, status, PLAN_MOVES)
