"""Checks a ``brace-layout/1`` answer against the raw survey; shares no code with the solver.

Both documents are taken as decoded JSON; only ``units`` and the table of dressed sizes are used.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from contractor.engine.data.lumber import dressed_size_in
from contractor.engine.units import format_length, read_exact_length, read_length

_DEFAULTS = {
    "corner_min": "12 in",
    "corner_max": "42 in",
    "spacing_max": "72 in",
    "spacing_max_bad": "36 in",
    "spacing_min": "24 in",
    "bracket_offset": "2 in",
    "clearance": "1 1/2 in",
    "top_gap": "1/2 in",
    "furring_layer": "1 1/2 in",
    "backer_thickness": "1 1/2 in",
}
_HALF_INCH = 32
_SIXTEENTH = 4


@dataclass(frozen=True)
class Violation:
    code: str
    text: str


def check_layout(
    survey: dict[str, Any], answer: dict[str, Any], *, screened_ticks: int | None = None
) -> list[Violation]:
    """Return what is wrong with ``answer``, an empty list when nothing is.

    ``screened_ticks`` is the spacing that the screening allows, where one was used.
    """
    return _Check(survey, answer, screened_ticks).run()


class _Check:
    def __init__(
        self, survey: dict[str, Any], answer: dict[str, Any], screened: int | None
    ) -> None:
        self.survey, self.answer = survey, answer
        self.found: list[Violation] = []
        rules = survey.get("rules") or {}
        self.rule = {n: _ticks(rules.get(n) or text) for n, text in _DEFAULTS.items()}
        limits = (
            [_ticks(rules["screened_spacing_max"])] if rules.get("screened_spacing_max") else []
        )
        self.screened = min(limits + ([screened] if screened is not None else []), default=None)
        self.length = _ticks(survey["wall"]["length"])
        self.joists = _joists(survey["framing"].get("centers"), self.length)
        self.parallel = survey["framing"]["joists"] == "parallel"
        self.features = survey.get("features") or []
        self.heights = sorted(
            (_ticks(row["at"]), _ticks(row["slab_to_subfloor"])) for row in survey["heights"]
        )
        self.at = [_ticks(brace["at"]) for brace in answer.get("braces", [])]
        self.limit = _ticks(answer["spacing_limit"]["value"])

    def add(self, code: str, text: str) -> None:
        self.found.append(Violation(code, text))

    def run(self) -> list[Violation]:
        if self.answer.get("schema") != "brace-layout/1":
            self.add("wrong_schema", "The answer is no brace-layout/1.")
        self.limit_holds()
        for number, brace in enumerate(self.answer["braces"], start=1):
            self.brace(number, brace)
        self.row()
        self.spacings()
        self.best()
        return self.found

    # ------------------------------------------------------------ limits

    def limit_holds(self) -> None:
        name = "spacing_max_bad" if self.survey["wall"].get("damage") == "bad" else "spacing_max"
        rule = self.rule[name]
        origin = self.answer["spacing_limit"]["from"]
        wanted = rule if self.screened is None else min(rule, self.screened)
        if origin == "rule":
            wrong = self.limit != rule or wanted < rule
        else:
            wrong = self.limit >= rule or (self.screened is not None and self.limit != wanted)
        if wrong:
            self.add("wrong_limit", f"The spacing limit is not {format_length(wanted)}.")

    def row(self) -> None:
        if not self.at:
            return
        low, high = self.rule["corner_min"], self.rule["corner_max"]
        for side, distance in (("left", self.at[0]), ("right", self.length - self.at[-1])):
            if not low <= distance <= high:
                self.add("corner_distance", f"{format_length(distance)} from the {side} corner.")
        for left, right in zip(self.at, self.at[1:], strict=False):
            if right <= left:
                self.add("not_in_order", "The braces do not come from left to right.")
            elif right - left < self.rule["spacing_min"]:
                self.add("spacing_too_small", f"Only {format_length(right - left)} apart.")
            elif right - left > self.limit:
                self.add("spacing_too_large", f"{format_length(right - left)} apart.")

    def spacings(self) -> None:
        wanted = [right - left for left, right in zip(self.at, self.at[1:], strict=False)]
        if [_ticks(spacing) for spacing in self.answer["spacings"]] != wanted:
            self.add("wrong_spacings", "The spacings are not those of the positions.")
        largest = self.answer["largest_spacing"]
        if (None if largest is None else _ticks(largest)) != max(wanted, default=None):
            self.add("wrong_largest_spacing", "The largest spacing is not the largest.")

    # ------------------------------------------------------------ one brace

    def brace(self, number: int, brace: dict[str, Any]) -> None:
        at = _ticks(brace["at"])
        if brace["mark"] != f"B{number}":
            self.add("wrong_mark", f"Brace {number} from the left is marked {brace['mark']}.")
        if not brace["because"]:
            self.add("no_reason", f"{brace['mark']} says nothing about why it stands there.")
        self.bearing(brace, at)
        specials, layers, stays = self.meets(at)
        if stays:
            self.add("blocked", f"{brace['mark']} is in the way of {', '.join(stays)}.")
        if sorted(brace["specials"]) != sorted(specials):
            self.add("wrong_specials", f"{brace['mark']} must name {specials}.")
        if brace["furring_layers"] != layers:
            self.add("wrong_furring", f"{brace['mark']} needs {layers} layers of furring.")
        self.beam(brace, at)

    def bearing(self, brace: dict[str, Any], at: int) -> None:
        joist, side = brace["joist"], brace["side"]
        if self.parallel:
            if (joist, side) != (None, None):
                self.add("wrong_joist", f"{brace['mark']} names a joist on parallel framing.")
            if at % _HALF_INCH or not 0 <= at <= self.length:
                self.add("not_a_place", f"{brace['mark']} is off the half-inch marks.")
            return
        offset = self.rule["bracket_offset"]
        if not any(abs(at - center) == offset for center in self.joists):
            self.add("not_a_place", f"{brace['mark']} stands beside no joist.")
        sign = {"left": -1, "right": 1}.get(side, 0)
        known = isinstance(joist, int) and 1 <= joist <= len(self.joists)
        if not known or not sign or self.joists[joist - 1] + sign * offset != at:
            self.add("wrong_joist", f"{brace['mark']} is not at the {side} of joist {joist}.")

    def meets(self, at: int) -> tuple[list[str], int, list[str]]:
        """Return (labels that give way, furring layers, labels that stay in the way)."""
        specials: list[str] = []
        stays: list[str] = []
        layers = 0
        for feature in self.features:
            begin, end = _ticks(feature["from"]), _ticks(feature["to"])
            margin = 0 if feature["kind"] == "line" else self.rule["clearance"]
            if at < begin - margin or at > end + margin:
                continue
            removable = bool(feature.get("removable")) and feature["kind"] != "opening"
            if feature["kind"] != "line" and not removable:
                stays.append(feature["label"])
                continue
            specials.append(feature["label"])
            if not removable:
                off = Fraction(_ticks(feature["stand_off"]), self.rule["furring_layer"])
                layers = max(layers, int(off) + (off != int(off)))
        return specials, layers, stays

    def beam(self, brace: dict[str, Any], at: int) -> None:
        span = next(
            (
                (left, right)
                for left, right in zip(self.heights, self.heights[1:], strict=False)
                if left[0] <= at <= right[0]
            ),
            None,
        )
        if span is None:
            self.add("outside_heights", f"{brace['mark']} is outside the measured heights.")
            return
        (x0, y0), (x1, y1) = span
        height = Fraction(y0 * (x1 - at) + y1 * (at - x0), x1 - x0) - self.rule["top_gap"]
        if self.parallel:
            height -= self.joist_depth() + self.rule["backer_thickness"]
        length = _ticks(brace["beam_length"])
        if length % _SIXTEENTH or not 0 <= height - length < _SIXTEENTH:
            self.add("wrong_beam_length", f"{brace['mark']}: {format_length(length, 64)}.")
        near = any(abs(at - station[0]) <= _HALF_INCH for station in self.heights)
        if brace["basis"] != ("measured" if near else "provisional"):
            self.add("wrong_basis", f"{brace['mark']} is not {brace['basis']}.")

    def joist_depth(self) -> int:
        framing = self.survey["framing"]
        if framing.get("depth"):
            return _ticks(framing["depth"])
        dressed = dressed_size_in(framing["size"])
        return int(dressed[1] * 64) if dressed else 0

    # ------------------------------------------------------------ is there a better one

    def best(self) -> None:
        """Hold braces and specials against the fewest there can be."""
        fewest = self.fewest()
        count = len(self.at)
        specials = sum(len(brace["specials"]) for brace in self.answer["braces"])
        if self.answer["no_answer"] is not None:
            if fewest is not None or count:
                self.add("wrong_no_answer", "There is a layout, though none is claimed.")
        elif fewest is None:
            self.add("claims_too_much", "No row of braces keeps the limits.")
        elif count > fewest[0]:
            self.add("not_fewest_braces", f"{fewest[0]} braces are enough.")
        elif count < fewest[0]:
            self.add("braces_missing", f"{fewest[0]} braces are needed.")
        elif specials > fewest[1]:
            self.add("not_fewest_specials", f"{fewest[1]} specials are enough.")

    def fewest(self) -> tuple[int, int] | None:
        """Return (braces, specials): layer after layer of positions, cheapest way to each."""
        if self.length < 2 * self.rule["corner_min"]:
            return 0, 0
        cost = self.open_positions()
        low, high = self.rule["corner_min"], self.rule["corner_max"]
        layer = {at: cost[at] for at in cost if low <= at <= high}
        count = 1
        while layer:
            ends = [layer[at] for at in layer if low <= self.length - at <= high]
            if ends:
                return count, min(ends)
            layer = self.next_layer(layer, cost)
            count += 1
        return None

    def next_layer(self, layer: dict[int, int], cost: dict[int, int]) -> dict[int, int]:
        following: dict[int, int] = {}
        positions = list(cost)
        for here, spent in layer.items():
            begin = bisect_left(positions, here + self.rule["spacing_min"])
            for at in positions[begin : bisect_right(positions, here + self.limit)]:
                way = spent + cost[at]
                following[at] = min(way, following.get(at, way))
        return following

    def open_positions(self) -> dict[int, int]:
        if self.parallel:
            spots = list(range(0, self.length + 1, _HALF_INCH))
        else:
            offset = self.rule["bracket_offset"]
            spots = [center + way for center in self.joists for way in (-offset, offset)]
        cost = {}
        for at in sorted(spots):
            specials, _, stays = self.meets(at)
            if 0 <= at <= self.length and not stays:
                cost[at] = len(specials)
        return cost


def _ticks(value: Any) -> int:
    return read_length(value, "")


def _joists(centers: Any, length: int) -> list[int]:
    """Return joist centres in ticks, each rounded on its own (halves up)."""
    if centers is None:
        return []
    if isinstance(centers, list):
        return [int(read_exact_length(center, "") * 64 + Fraction(1, 2)) for center in centers]
    first, spacing = (read_exact_length(centers[name], "") for name in ("first", "spacing"))
    joists = []
    while first * 64 <= length:
        joists.append(int(first * 64 + Fraction(1, 2)))
        first += spacing
    return joists
