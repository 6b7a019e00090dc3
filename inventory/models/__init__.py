"""Rows of the warehouse: parts, places, the ledger, holds, orders, kits, cutting plans."""

from inventory.models.cutting import CutPiece, CutPlanBar, CuttingPlan
from inventory.models.kits import Kit, KitLine
from inventory.models.ledger import Balance, LedgerEntry
from inventory.models.movements import StockCount, Transfer, TransferLine
from inventory.models.orders import Receipt, ReceiptLine, SupplierOrder, SupplierOrderLine
from inventory.models.parts import Part, ReorderRule, Supplier, SupplierPart
from inventory.models.places import Bin, Lot, Offcut, Place, StockLength, StockLevel
from inventory.models.reservations import Reservation, ReservationLine

__all__ = [
    "Balance",
    "Bin",
    "CutPiece",
    "CutPlanBar",
    "CuttingPlan",
    "Kit",
    "KitLine",
    "LedgerEntry",
    "Lot",
    "Offcut",
    "Part",
    "Place",
    "Receipt",
    "ReceiptLine",
    "ReorderRule",
    "Reservation",
    "ReservationLine",
    "StockCount",
    "StockLength",
    "StockLevel",
    "Supplier",
    "SupplierOrder",
    "SupplierOrderLine",
    "SupplierPart",
    "Transfer",
    "TransferLine",
]
