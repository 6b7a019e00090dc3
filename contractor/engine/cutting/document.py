"""Read ``cut-stock/1`` and read and write ``cut-plan/1`` documents (see the exchange formats).

Every refusal is an InputError with a JSON pointer. Sizes are bounded so that a posted document
cannot make the solver build tables that the machine cannot hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from contractor.engine.cutting.model import Bar, CutPlan, Instance, Item, Pieces, Stock
from contractor.engine.errors import InputError

MAX_LENGTH = 10_000_000
MAX_COST = 10_000_000_000
MAX_STOCK = 2_000
MAX_ITEMS = 2_000
MAX_PIECES = 20_000
MAX_TEXT = 200

_TOP = {"schema", "name", "kerf", "end_trim", "min_offcut", "stock", "items", "unit", "source"}
_TOP |= {"optimum", "optimum_basis", "bound", "bounds"}
_STOCK = {"id", "length", "cost", "supply", "offcut"}
_ITEM = {"id", "length", "demand", "due", "group"}


def read_instance(document: Any) -> Instance:
    """Return the instance of a ``cut-stock/1`` document; raises InputError."""
    root = _object(document, "", _TOP)
    if root.get("schema") != "cut-stock/1":
        raise InputError(
            "unknown_schema", "/schema", "This is not cut-stock/1.", "Send cut-stock/1."
        )
    kerf, trim, least = (
        _whole(root.get(key, 0), f"/{key}", 0, MAX_LENGTH)
        for key in ("kerf", "end_trim", "min_offcut")
    )
    stock = tuple(
        _stock(entry, f"/stock/{at}") for at, entry in enumerate(_list(root, "stock", MAX_STOCK))
    )
    items = tuple(
        _item(entry, f"/items/{at}") for at, entry in enumerate(_list(root, "items", MAX_ITEMS))
    )
    name = _text(root.get("name", ""), "/name")
    instance = Instance(stock, items, kerf, trim, least, name)
    _check_ids(instance)
    _check_sizes(instance)
    return instance


def _check_ids(instance: Instance) -> None:
    stock_ids = [stock.id for stock in instance.stock]
    item_ids = [item.id for item in instance.items]
    for kind, ids in (("stock", stock_ids), ("items", item_ids)):
        seen: set[str] = set()
        for at, key in enumerate(ids):
            if key in seen:
                reason = f"The id {key!r} is used twice."
                raise InputError("duplicate_id", f"/{kind}/{at}/id", reason, "Give each its own.")
            seen.add(key)


def _check_sizes(instance: Instance) -> None:
    if instance.pieces > MAX_PIECES:
        reason = f"{instance.pieces} pieces are more than the {MAX_PIECES} planned at once."
        raise InputError("too_many_pieces", "/items", reason, "Split the request.")
    longest = max((instance.capacity(stock) for stock in instance.stock), default=0)
    for at, item in enumerate(instance.items):
        if instance.width(item) > longest:
            room = max(0, longest - instance.kerf)
            reason = f"Piece {item.id!r} is {item.length} long, the longest bar gives {room}."
            remedy = "Add a longer stock length or make the piece shorter."
            raise InputError("piece_too_long", f"/items/{at}/length", reason, remedy)


def _stock(entry: Any, pointer: str) -> Stock:
    row = _object(entry, pointer, _STOCK)
    supply = row.get("supply")
    return Stock(
        id=_id(row, pointer),
        length=_whole(row.get("length"), f"{pointer}/length", 1, MAX_LENGTH),
        cost=_whole(row.get("cost"), f"{pointer}/cost", 0, MAX_COST),
        supply=None if supply is None else _whole(supply, f"{pointer}/supply", 0, MAX_PIECES),
        is_offcut=_flag(row.get("offcut", False), f"{pointer}/offcut"),
    )


def _item(entry: Any, pointer: str) -> Item:
    row = _object(entry, pointer, _ITEM)
    group = row.get("group")
    return Item(
        id=_id(row, pointer),
        length=_whole(row.get("length"), f"{pointer}/length", 1, MAX_LENGTH),
        demand=_whole(row.get("demand"), f"{pointer}/demand", 0, MAX_PIECES),
        due=_date(row.get("due"), f"{pointer}/due"),
        group=None if group is None else _text(group, f"{pointer}/group"),
    )


def _object(value: Any, pointer: str, known: set[str]) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise InputError("not_an_object", pointer or "/", "An object is needed.", "Send {...}.")
    for key in value:
        if key not in known:
            remedy = f"Use only {', '.join(sorted(known))}."
            raise InputError("unknown_field", f"{pointer}/{key}", "This field is unknown.", remedy)
    return value


def _list(root: Mapping[str, Any], key: str, most: int) -> Sequence[Any]:
    value = root.get(key)
    if not isinstance(value, list):
        raise InputError("not_a_list", f"/{key}", "A list is needed.", "Send [...].")
    if len(value) > most:
        reason = f"{len(value)} entries are more than {most}."
        raise InputError("too_many_entries", f"/{key}", reason, "Split the request.")
    return value


def _whole(value: Any, pointer: str, least: int, most: int) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise InputError("not_a_whole_number", pointer, "A whole number is needed.", "Send one.")
    if not least <= value <= most:
        reason = f"{value} is outside {least} to {most}."
        raise InputError("out_of_range", pointer, reason, "Send a number inside the range.")
    return value


def _text(value: Any, pointer: str) -> str:
    if not isinstance(value, str) or len(value) > MAX_TEXT:
        reason = f"Text of at most {MAX_TEXT} characters is needed."
        raise InputError("not_text", pointer, reason, "Send text.")
    return value


def _id(row: Mapping[str, Any], pointer: str) -> str:
    text = _text(row.get("id"), f"{pointer}/id")
    if not text:
        raise InputError("empty_id", f"{pointer}/id", "The id is empty.", "Give it an id.")
    return text


def _flag(value: Any, pointer: str) -> bool:
    if not isinstance(value, bool):
        raise InputError("not_a_flag", pointer, "true or false is needed.", "Send true or false.")
    return value


def _date(value: Any, pointer: str) -> date | None:
    if value is None:
        return None
    try:
        return date.fromisoformat(_text(value, pointer))
    except ValueError as wrong:
        reason = "This is not a date."
        raise InputError("not_a_date", pointer, reason, "Send YYYY-MM-DD.") from wrong


def plan_document(plan: CutPlan) -> dict[str, Any]:
    """Return the plan as a ``cut-plan/1`` document, bars in saw order."""
    return {
        "schema": "cut-plan/1",
        "bars": [
            {
                "stock": bar.stock,
                "count": bar.count,
                "pieces": [list(piece) for piece in bar.pieces],
                "left": bar.left,
                "kept": bar.is_kept,
            }
            for bar in plan.bars
        ],
        "cost": plan.cost,
        "bound": plan.bound,
        "gap": round(plan.gap, 9),
        "proven": plan.is_proven,
        "seconds": round(plan.seconds, 3),
        "engine": plan.method,
        "unmet": [list(piece) for piece in plan.unmet],
    }


def read_plan(document: Any) -> CutPlan:
    """Return the plan of a ``cut-plan/1`` document; raises InputError. Says nothing of validity."""
    known = {"schema", "bars", "cost", "bound", "gap", "proven", "seconds", "engine", "unmet"}
    root = _object(document, "", known)
    if root.get("schema") != "cut-plan/1":
        raise InputError("unknown_schema", "/schema", "This is not cut-plan/1.", "Send cut-plan/1.")
    bars = tuple(
        _bar(entry, f"/bars/{at}") for at, entry in enumerate(_list(root, "bars", MAX_PIECES))
    )
    seconds = root.get("seconds", 0.0)
    if isinstance(seconds, bool) or not isinstance(seconds, int | float):
        raise InputError("not_a_number", "/seconds", "A number is needed.", "Send one.")
    most = MAX_COST * MAX_PIECES
    return CutPlan(
        bars=bars,
        cost=_whole(root.get("cost"), "/cost", 0, most),
        bound=_whole(root.get("bound"), "/bound", 0, most),
        is_proven=_flag(root.get("proven", False), "/proven"),
        unmet=_pieces(root.get("unmet", []), "/unmet"),
        seconds=float(seconds),
        method=_text(root.get("engine", ""), "/engine"),
    )


def _bar(entry: Any, pointer: str) -> Bar:
    row = _object(entry, pointer, {"stock", "count", "pieces", "left", "kept"})
    return Bar(
        stock=_text(row.get("stock"), f"{pointer}/stock"),
        count=_whole(row.get("count"), f"{pointer}/count", 1, MAX_PIECES),
        pieces=_pieces(row.get("pieces"), f"{pointer}/pieces"),
        left=_whole(row.get("left"), f"{pointer}/left", 0, MAX_LENGTH),
        is_kept=_flag(row.get("kept"), f"{pointer}/kept"),
    )


def _pieces(value: Any, pointer: str) -> Pieces:
    if not isinstance(value, list) or len(value) > MAX_ITEMS:
        raise InputError("not_a_list", pointer, "A list of pieces is needed.", "Send [[id, n]].")
    found: list[tuple[str, int]] = []
    for at, pair in enumerate(value):
        where = f"{pointer}/{at}"
        if not isinstance(pair, list) or len(pair) != 2:
            raise InputError("not_a_pair", where, "A pair is needed.", "Send [id, number].")
        found.append((_text(pair[0], where), _whole(pair[1], where, 1, MAX_PIECES)))
    return tuple(found)
