"""Cutting plans: pieces out of stock lengths and offcuts at least material cost.

Lengths are whole numbers of one unit (ticks inside the service, whatever the file says in a
benchmark), costs whole numbers of cents. Solvers are imported by the functions that run them,
so that importing this package costs next to nothing.
"""

from contractor.engine.cutting.document import plan_document, read_instance, read_plan
from contractor.engine.cutting.model import Bar, CutPlan, Instance, Item, Stock
from contractor.engine.cutting.solve import solve

__all__ = [
    "Bar",
    "CutPlan",
    "Instance",
    "Item",
    "Stock",
    "plan_document",
    "read_instance",
    "read_plan",
    "solve",
]
