"""What can be done in the warehouse: one verb, one transaction each.

``plan_cuts``, ``plan_requested`` and ``replan_cuts`` compute outside any transaction and store
their result in one.
"""

from inventory.services.buying import set_price, set_reorder_rule
from inventory.services.catalogue import load_catalogue
from inventory.services.counting import adjust, count, count_new
from inventory.services.kitting import (
    cancel_kit,
    create_kit,
    pull,
    put_back,
    short,
    stage,
    start_pulling,
    substitute,
)
from inventory.services.loading import load, return_kit, use_kit
from inventory.services.moving import move_to_bin
from inventory.services.ordering import (
    OrderItem,
    cancel_order,
    change_promise,
    order,
    place_order,
)
from inventory.services.planning import cancel_plan, plan_cuts, plan_requested, request_cuts
from inventory.services.reallocating import take_over
from inventory.services.receiving import attach_certificate, receive, receive_order
from inventory.services.replanning import remeasure, replan_cuts
from inventory.services.reserving import (
    expire,
    release,
    release_kit,
    reserve,
    reserve_if_open,
    reserve_kit,
)
from inventory.services.sawing import record_mis_cut, record_sawn, record_scrapped, start_sawing
from inventory.services.transferring import Parcel, transfer_in, transfer_out

__all__ = [
    "OrderItem",
    "Parcel",
    "adjust",
    "attach_certificate",
    "cancel_kit",
    "cancel_order",
    "cancel_plan",
    "change_promise",
    "count",
    "count_new",
    "create_kit",
    "expire",
    "load",
    "load_catalogue",
    "move_to_bin",
    "order",
    "place_order",
    "plan_cuts",
    "plan_requested",
    "pull",
    "put_back",
    "receive",
    "receive_order",
    "record_mis_cut",
    "record_sawn",
    "record_scrapped",
    "release",
    "release_kit",
    "remeasure",
    "replan_cuts",
    "request_cuts",
    "reserve",
    "reserve_if_open",
    "reserve_kit",
    "return_kit",
    "set_price",
    "set_reorder_rule",
    "short",
    "stage",
    "start_pulling",
    "start_sawing",
    "substitute",
    "take_over",
    "transfer_in",
    "transfer_out",
    "use_kit",
]
