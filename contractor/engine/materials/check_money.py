"""The money half of the recount: every cost line worked out again from the posted documents."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from contractor.engine.units import read_exact_length

if TYPE_CHECKING:
    from contractor.engine.materials.check import Violation

Document = dict[str, Any]


def check_cost(
    request: Document, bill: Document, parts: Document, rates: Document, done: Counter[str]
) -> Iterator[Violation]:
    """Yield violations of the cost sheet; ``done`` is how often each task unit is done."""
    from contractor.engine.materials.check import Violation

    cost = bill["cost"]
    for line in cost["lines"]:
        if not line["origin"]:
            yield Violation("origin_missing", f"Cost line {line['what']} says no origin.")
    for code, text in (
        *_material(bill, parts, rates),
        *_labour(cost, rates, done),
        *_travel(request, cost, rates),
    ):
        yield Violation(code, text)
    for kind in ("material", "labour", "travel"):
        total = sum(line["cents"] for line in cost["lines"] if line["kind"] == kind)
        if total != cost[f"{kind}_cents"]:
            yield Violation("cost_total", f"The {kind} lines add up to {total}.")
    if cost["total_cents"] != sum(line["cents"] for line in cost["lines"]):
        yield Violation("cost_total", "The total is not the sum of the lines.")


def _cents(value: Fraction) -> int:
    return math.floor(value + Fraction(1, 2))


def _material(bill: Document, parts: Document, rates: Document) -> Iterator[tuple[str, str]]:
    costed = {line["part"]: line["cents"] for line in bill["cost"]["lines"] if line["part"]}
    counts: Counter[str] = Counter()
    for line in bill["lines"]:
        counts[line["part"]] += line["count"]
    for code in sorted(set(counts) ^ set(costed)):
        yield "cost_line", f"{code} is on the bill or the cost sheet, not on both."
    for code in sorted(set(counts) & set(costed)):
        low, high = _price_range(parts[code], counts[code], bill, rates)
        if not low <= costed[code] <= high:
            yield "cost_line", f"{code} costs {costed[code]}, recount {low} to {high}."
    cuts = sum(line["count"] for line in bill["lines"] if line["role"] == "beam")
    sawing = sum(line["cents"] for line in bill["cost"]["lines"] if line["what"] == "Sawing beams")
    if sawing != cuts * rates.get("sawcut_cents", 0):
        yield "cost_line", f"Sawing costs {sawing} for {cuts} cuts."


def _price_range(part: Document, count: int, bill: Document, rates: Document) -> tuple[int, int]:
    """Return least and most cents; they differ for lumber only, whose sticks are packed."""
    if part["kind"] != "bar" and "pack" not in part:
        return (part.get("price_cents", 0) * count,) * 2
    if part["kind"] != "bar":
        share = Fraction(part["pack"]["price_cents"] * count, part["pack"]["size"])
        return (_cents(share),) * 2
    lengths = [
        read_exact_length(piece["length"], "")
        for line in bill["lines"]
        if line["part"] == part["code"]
        for piece in line["pieces"]
    ]
    stock = [(read_exact_length(s["length"], ""), s["price_cents"]) for s in part["stock"]]
    usable = [(length, cents) for length, cents in stock if length >= max(lengths)]
    per_inch = min(Fraction(cents) / length for length, cents in usable)
    if part["role"] == "beam":
        waste = Fraction(100 + rates.get("bar_waste_percent", 0), 100)
        return (_cents(sum(lengths) * waste * per_inch),) * 2
    most = len(lengths) * min(cents for _, cents in usable)
    return math.ceil(sum(lengths) * per_inch), most


def _labour(cost: Document, rates: Document, done: Counter[str]) -> Iterator[tuple[str, str]]:
    hours = Fraction(0)
    wanted: Counter[str] = Counter()
    for task in rates["tasks"]:
        spent = done[task["per"]] * Fraction(str(task["hours"])) if done["brace"] else Fraction(0)
        hours += spent
        wanted[task["text"]] += _cents(spent * rates["labour_cents_per_hour"])
    found: Counter[str] = Counter()
    for line in cost["lines"]:
        if line["kind"] == "labour":
            found[line["what"]] += line["cents"]
    for what in sorted(set(wanted) | set(found)):
        if wanted[what] != found[what]:
            yield "labour", f"{what}: {found[what]} cents, recount {wanted[what]}."
    if abs(cost["labour"]["value"] - float(hours)) > 1e-6:
        yield "labour", f"{cost['labour']['value']} h, recount {float(hours)}."


def _travel(request: Document, cost: Document, rates: Document) -> Iterator[tuple[str, str]]:
    crew = rates["travel"]["crew_size"]
    day = crew * Fraction(str(rates["travel"]["hours_per_day"]))
    trips = math.ceil(Fraction(str(cost["labour"]["value"])) / day)
    if cost["trips"] != trips:
        yield "travel", f"{cost['trips']} trips, recount {trips}."
    found = [line["cents"] for line in cost["lines"] if line["kind"] == "travel"]
    wanted: list[int] = []
    if request.get("travel") and trips:
        miles, minutes = (
            Fraction(str(request["travel"][name]["value"])) for name in ("distance", "drive")
        )
        wanted.append(_cents(2 * trips * miles * rates["travel"]["cents_per_mile"]))
        wanted.append(_cents(2 * trips * crew * minutes / 60 * rates["labour_cents_per_hour"]))
    if found != wanted:
        yield "travel", f"Travel costs {found}, recount {wanted}."
