"""From laid-out braces to a bill of materials with tools, weights, hours and cost."""

from contractor.engine.materials.catalogue import Catalogue, Part, StockLength, read_catalogue
from contractor.engine.materials.cost import CostLine, CostSheet, cost_of
from contractor.engine.materials.document import bill_document, write_bill
from contractor.engine.materials.hardware import FastenerCounts, Hardware, read_hardware
from contractor.engine.materials.rates import Rates, Travel, read_rates, read_travel
from contractor.engine.materials.request import read_braces
from contractor.engine.materials.takeoff import take_off
from contractor.engine.materials.tools import Tool, tools_for
from contractor.engine.materials.work import Line, Piece, PlacedBrace, TakeOff, WallWork, work_of

__all__ = [
    "Catalogue",
    "CostLine",
    "CostSheet",
    "FastenerCounts",
    "Hardware",
    "Line",
    "Part",
    "Piece",
    "PlacedBrace",
    "Rates",
    "StockLength",
    "TakeOff",
    "Tool",
    "Travel",
    "WallWork",
    "bill_document",
    "cost_of",
    "read_braces",
    "read_catalogue",
    "read_hardware",
    "read_rates",
    "read_travel",
    "take_off",
    "tools_for",
    "work_of",
    "write_bill",
]
