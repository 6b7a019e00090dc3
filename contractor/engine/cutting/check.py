"""Check a cutting plan against its instance, from the two raw documents only.

This module shares no code with the solver or with the readers: it does its own arithmetic on
the JSON values, so that a mistake made there is seen here. Codes of violations:

malformed, unknown_stock, unknown_item, bad_count, empty_bar, overfull, over_supply, over_cut,
under_cut, wrong_left, wrong_kept, wrong_cost, wrong_bound, wrong_gap, false_proof, wrong_unmet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Violation:
    code: str
    text: str


def check_plan(instance: dict[str, Any], plan: dict[str, Any]) -> list[Violation]:
    """Return what is wrong with a ``cut-plan/1`` for a ``cut-stock/1`` document; [] when right."""
    try:
        return _check(instance, plan)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as wrong:
        return [Violation("malformed", f"The documents cannot be read: {wrong!r}.")]


def _check(instance: dict[str, Any], plan: dict[str, Any]) -> list[Violation]:
    found: list[Violation] = []

    def report(code: str, text: str) -> None:
        found.append(Violation(code, text))

    if plan["schema"] != "cut-plan/1" or instance["schema"] != "cut-stock/1":
        report("malformed", "Not a cut-plan/1 beside a cut-stock/1 document.")
    cut: dict[str, int] = {}
    used: dict[str, int] = {}
    for number, bar in enumerate(plan["bars"]):
        _check_bar(instance, bar, f"bar {number}", report)
        used[bar["stock"]] = used.get(bar["stock"], 0) + bar["count"]
        for item_id, per_bar in bar["pieces"]:
            cut[item_id] = cut.get(item_id, 0) + per_bar * bar["count"]
    _check_supply(instance, used, report)
    _check_demand(instance, cut, plan["unmet"], report)
    _check_money(instance, plan, used, report)
    return found


def _check_bar(
    instance: dict[str, Any], bar: dict[str, Any], name: str, report: Callable[[str, str], None]
) -> None:
    stock = [row for row in instance["stock"] if row["id"] == bar["stock"]]
    if not stock:
        report("unknown_stock", f"{name}: no stock {bar['stock']!r}.")
        return
    if type(bar["count"]) is not int or bar["count"] < 1:
        report("bad_count", f"{name}: cut {bar['count']!r} times.")
    lengths: list[int] = []
    for item_id, per_bar in bar["pieces"]:
        item = [row for row in instance["items"] if row["id"] == item_id]
        if not item:
            report("unknown_item", f"{name}: no piece {item_id!r}.")
            return
        if type(per_bar) is not int or per_bar < 1:
            report("bad_count", f"{name}: {per_bar!r} pieces of {item_id!r}.")
            return
        lengths += [item[0]["length"]] * per_bar
    if not lengths:
        report("empty_bar", f"{name}: nothing is cut from it.")
        return
    _check_lengths(instance, bar, stock[0]["length"], lengths, name, report)


def _check_lengths(
    instance: dict[str, Any],
    bar: dict[str, Any],
    length: int,
    lengths: list[int],
    name: str,
    report: Callable[[str, str], None],
) -> None:
    kerf, trim = instance.get("kerf", 0), instance.get("end_trim", 0)
    least = instance.get("min_offcut", 0)
    need = trim + sum(lengths) + kerf * (len(lengths) - 1)
    if need > length:
        report("overfull", f"{name}: needs {need} of {length}.")
        return
    left = length - need - kerf
    left = left if left > 0 else 0
    if bar["left"] != left:
        report("wrong_left", f"{name}: leaves {left}, the plan says {bar['left']}.")
    if bar["kept"] is not (least > 0 and left >= least):
        report("wrong_kept", f"{name}: {left} left with a least offcut of {least}.")


def _check_supply(
    instance: dict[str, Any], used: dict[str, int], report: Callable[[str, str], None]
) -> None:
    for row in instance["stock"]:
        supply = row.get("supply")
        taken = used.get(row["id"], 0)
        if supply is not None and taken > supply:
            report("over_supply", f"{taken} bars of {row['id']!r}, only {supply} at hand.")


def _check_demand(
    instance: dict[str, Any],
    cut: dict[str, int],
    unmet: list[list[Any]],
    report: Callable[[str, str], None],
) -> None:
    missing: dict[str, int] = {}
    for item_id, number in unmet:
        if type(number) is not int or number < 1 or item_id in missing:
            report("wrong_unmet", f"Unmet says {number!r} of {item_id!r}.")
        missing[item_id] = number
    known = set()
    for row in instance["items"]:
        known.add(row["id"])
        have = cut.get(row["id"], 0) + missing.get(row["id"], 0)
        if have > row["demand"]:
            report("over_cut", f"{have} of {row['id']!r} for a demand of {row['demand']}.")
        elif have < row["demand"]:
            report("under_cut", f"{have} of {row['id']!r} for a demand of {row['demand']}.")
    for item_id in missing:
        if item_id not in known:
            report("wrong_unmet", f"Unmet names the unknown piece {item_id!r}.")


def _check_money(
    instance: dict[str, Any],
    plan: dict[str, Any],
    used: dict[str, int],
    report: Callable[[str, str], None],
) -> None:
    price = {row["id"]: row["cost"] for row in instance["stock"]}
    cost = sum(price.get(stock, 0) * count for stock, count in used.items())
    if plan["cost"] != cost:
        report("wrong_cost", f"The bars cost {cost}, the plan says {plan['cost']}.")
    if type(plan["bound"]) is not int or not 0 <= plan["bound"] <= cost:
        report("wrong_bound", f"A bound of {plan['bound']!r} for a cost of {cost}.")
        return
    gap = (cost - plan["bound"]) / cost if cost else 0.0
    if abs(plan["gap"] - gap) > 1e-6:
        report("wrong_gap", f"The gap is {gap:.6f}, the plan says {plan['gap']!r}.")
    if plan["proven"] is not (plan["bound"] == cost):
        report("false_proof", f"Proven is {plan['proven']}, bound {plan['bound']}, cost {cost}.")
