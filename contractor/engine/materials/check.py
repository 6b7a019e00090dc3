"""An independent recount of a bill: from the posted documents and the bill, nothing else.

Shares no code with the take-off. Works in exact inches (Fractions) read from the documents.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from contractor.engine.units import read_exact_length

Document = dict[str, Any]
_DRESSED_THICKNESS = Fraction(3, 2)
_ONE_PERSON_LB = 51


@dataclass(frozen=True)
class Violation:
    code: str
    text: str


def check_bill(
    request: Document, bill: Document, parts: Document, rates: Document
) -> list[Violation]:
    """Return every way in which ``bill`` does not answer ``request``; empty when it does."""
    recount = _Recount(request, bill, parts, rates)
    return [*recount.walls(), *recount.job(), *recount.line_facts(), *recount.money()]


def inches(value: object) -> Fraction:
    return read_exact_length(value, "")


def _number(quantity: Document) -> float:
    return float(quantity["value"])


class _Recount:
    def __init__(self, request: Document, bill: Document, parts: Document, rates: Document) -> None:
        self.request = request
        self.bill = bill
        self.parts = {part["code"]: part for part in parts["parts"]}
        self.rates = rates
        self.hardware = request.get("hardware") or {}
        self.done: Counter[str] = Counter(job=1)

    def _choice(self, name: str, default: Any) -> Any:
        return default if self.hardware.get(name) is None else self.hardware[name]

    # ------------------------------------------------------------ counts

    def walls(self) -> Iterator[Violation]:
        for i, wall in enumerate(self.request["walls"]):
            name = wall.get("name") or wall["survey"].get("name") or f"wall {i + 1}"
            lines = [line for line in self.bill["lines"] if line["wall"] == name]
            braces = wall["layout"]["braces"]
            if braces:
                self.done.update(wall=1, brace=len(braces))
            yield from self._beams(name, braces, lines)
            yield from self._counts(name, wall, lines)
            yield from self._furring(name, wall, lines)
            if wall["survey"]["framing"]["joists"] == "parallel" and braces:
                yield from self._blocks(name, wall, lines)

    def job(self) -> Iterator[Violation]:
        kits = sum(line["count"] for line in self.bill["lines"] if line["role"] == "homeowner_kit")
        wanted = 1 if self.done["brace"] else 0
        if kits != wanted:
            yield Violation("homeowner_kit", f"{kits} re-tightening kits, a job needs {wanted}.")
        heavy = [
            w for line in self.bill["lines"] for w in self._weights(line) if w > _ONE_PERSON_LB
        ]
        if heavy and not self.bill["lifting"]["caution"]:
            yield Violation("lifting_caution", f"{len(heavy)} heavy pieces and no caution.")

    def _beams(
        self, name: str, braces: list[Document], lines: list[Document]
    ) -> Iterator[Violation]:
        sawn = {
            piece["mark"]: inches(piece["length"])
            for line in lines
            if line["role"] == "beam"
            for piece in line["pieces"]
        }
        wanted = {brace["mark"]: inches(brace["beam_length"]) for brace in braces}
        for mark in sorted(set(wanted) ^ set(sawn)):
            yield Violation("beam_count", f"{name}: beam {mark} is missing or not wanted.")
        for mark in sorted(set(wanted) & set(sawn)):
            if wanted[mark] != sawn[mark]:
                yield Violation("beam_length", f"{name}: beam {mark} has another length.")
        name = self._choice("shape", "S5x10")
        shape = (name, self._choice("grade", "A36" if name[0] == "S" else "A992"))
        for line in lines:
            part = self.parts.get(line["part"], {})
            if line["role"] == "beam" and (part.get("profile"), part.get("grade")) != shape:
                yield Violation("wrong_beam", f"{name}: {line['part']} is not {shape}.")

    def _counts(self, name: str, wall: Document, lines: list[Document]) -> Iterator[Violation]:
        n = len(wall["layout"]["braces"])
        bolts = n * self._choice("through_bolts_per_bracket", 4)
        anchors = n * self._choice("anchors_per_bracket", 2)
        parallel = wall["survey"]["framing"]["joists"] == "parallel"
        wanted = {
            "top_bracket": n,
            "bottom_bracket": n,
            "tightening_bolt": n,
            "through_bolt": bolts,
            "nut": bolts,
            "plate_washer": bolts * self._choice("plate_washers_per_bolt", 1),
            "washer": bolts * self._choice("washers_per_bolt", 1),
            "anchor": anchors,
            "label": n,
            "backer": n if parallel else 0,
            "sealant": self._sealant(wall, anchors),
        }
        found: Counter[str] = Counter()
        for line in lines:
            found[line["role"]] += line["count"]
        for role, count in wanted.items():
            if found[role] != count:
                yield Violation("wrong_count", f"{name}: {role} {found[role]}, recount {count}.")
        self.done["backer"] += wanted["backer"]
        self.done["special_moved"] += len(self._moved(wall))
        yield from self._bolt_lengths(name, wall, lines)

    def _sealant(self, wall: Document, holes: int) -> int:
        gap = (wall["survey"].get("slab") or {}).get("edge_gap")
        if gap is not None and inches(gap) == 0:
            return 0
        self.done["sealed_hole"] += holes
        covers = [p.get("covers", 1) for p in self.parts.values() if p["role"] == "sealant"]
        return math.ceil(holes / covers[0]) if holes else 0

    def _moved(self, wall: Document) -> set[str]:
        met = {label for brace in wall["layout"]["braces"] for label in brace["specials"]}
        features = wall["survey"].get("features") or []
        return {f["label"] for f in features if f["label"] in met and f.get("removable")}

    def _bolt_lengths(
        self, name: str, wall: Document, lines: list[Document]
    ) -> Iterator[Violation]:
        framing = wall["survey"]["framing"]
        wood = inches(framing["thickness"]) if framing.get("thickness") else _DRESSED_THICKNESS
        if framing["joists"] == "parallel":
            wood = _DRESSED_THICKNESS
        for line in lines:
            if line["role"] == "through_bolt":
                part = self.parts[line["part"]]
                if inches(part["length"]) < wood + inches(part["diameter"]):
                    yield Violation("bolt_too_short", f"{name}: {line['part']} does not pass.")

    # ------------------------------------------------------------ wood

    def _furring(self, name: str, wall: Document, lines: list[Document]) -> Iterator[Violation]:
        features = {f["label"]: f for f in wall["survey"].get("features") or []}
        wanted: Counter[Fraction] = Counter()
        for brace in wall["layout"]["braces"]:
            layers = brace.get("furring_layers", 0)
            lines_met = [
                features[label]
                for label in brace["specials"]
                if label in features
                and features[label]["kind"] == "line"
                and not features[label].get("removable")
            ]
            for length in _between(inches(brace["beam_length"]), lines_met, self._clearance(wall)):
                wanted[length] += layers
        wanted = +wanted
        found = Counter(
            inches(piece["length"])
            for line in lines
            if line["role"] == "furring"
            for piece in line["pieces"]
        )
        self.done["furring_piece"] += sum(wanted.values())
        if found != wanted:
            yield Violation("furring", f"{name}: furring pieces differ from the recount.")
        screws = sum(line["count"] for line in lines if line["role"] == "furring_screw")
        if screws != sum(wanted.values()) * self._choice("screws_per_furring_piece", 4):
            yield Violation("furring", f"{name}: furring screws differ from the recount.")

    def _clearance(self, wall: Document) -> Fraction:
        given = (wall["survey"].get("rules") or {}).get("clearance")
        return Fraction(3, 2) if given is None else inches(given)

    def _blocks(self, name: str, wall: Document, lines: list[Document]) -> Iterator[Violation]:
        n = len(wall["layout"]["braces"])
        joists, cuts = self._bays(wall["survey"]["framing"])
        found = Counter(
            inches(piece["length"])
            for line in lines
            if line["role"] == "blocking"
            for piece in line["pieces"]
        )
        self.done["block"] += n * len(cuts)
        if sum(found.values()) != n * len(cuts):
            yield Violation("block_count", f"{name}: {sum(found.values())} blocks.")
        elif found != Counter({cut: count * n for cut, count in Counter(cuts).items()}):
            yield Violation("block_length", f"{name}: block lengths differ from the recount.")
        set_by_company = self._choice("fasteners", {})
        per = [
            set_by_company.get(key, 3)
            for key in ("per_block_end", "per_block_through_backer", "per_joist_through_backer")
        ]
        wanted = n * (len(cuts) * (2 * per[0] + per[1]) + joists * per[2])
        nails = sum(line["count"] for line in lines if line["role"] in ("nail", "screw"))
        if nails != wanted:
            yield Violation("fasteners", f"{name}: {nails} nails or screws, recount {wanted}.")

    def _bays(self, framing: Document) -> tuple[int, list[Fraction]]:
        """Return (joists crossed, block cuts) of one backer."""
        reach = inches(self._choice("backer_length", "8 ft"))
        thick = inches(framing["thickness"]) if framing.get("thickness") else _DRESSED_THICKNESS
        centers = _centers(framing.get("centers"), reach)
        if centers is None:
            step = inches(self._choice("assumed_joist_spacing", "16 in"))
            centers = [step * i for i in range(1, int(reach / step) + 1)]
        crossed = [c for c in sorted(centers) if 0 <= c <= reach]
        clear = [b - a - thick for a, b in pairwise(crossed)]
        if crossed:
            measured = self.hardware.get("first_bay_clear")
            first = crossed[0] - thick / 2 if measured is None else inches(measured)
            clear.insert(0, first)
        return len(crossed), [_down(c) for c in clear if c >= Fraction(3, 2)]

    # ------------------------------------------------------------ lines and money

    def _weights(self, line: Document) -> list[float]:
        part = self.parts[line["part"]]
        if part["kind"] == "bar":
            per_foot = _number(part.get("weight_per_length", {"value": 0}))
            return [float(inches(p["length"])) / 12 * per_foot for p in line["pieces"]]
        return [_number(part.get("weight", {"value": 0}))] * line["count"]

    def line_facts(self) -> Iterator[Violation]:
        for line in self.bill["lines"]:
            part = self.parts.get(line["part"])
            if part is None or part["role"] != line["role"]:
                yield Violation("wrong_part", f"Line {line['line']}: {line['part']}.")
                continue
            if not line["because"]:
                yield Violation("origin_missing", f"Line {line['line']} says no reason.")
            if abs(sum(self._weights(line)) - _number(line["weight"])) > 0.02:
                yield Violation("weight", f"Line {line['line']}: weight differs.")
            if part["kind"] == "consumable":
                packs = math.ceil(line["count"] / part.get("pack", {"size": 1})["size"])
                if line["packs"]["count"] != packs:
                    yield Violation("packs", f"Line {line['line']}: recount {packs} packs.")

    def money(self) -> Iterator[Violation]:
        from contractor.engine.materials.check_money import check_cost

        yield from check_cost(self.request, self.bill, self.parts, self.rates, self.done)


def _centers(given: object, reach: Fraction) -> list[Fraction] | None:
    """Return joist centres off the wall; None where nobody measured them."""
    if isinstance(given, list):
        return [_tick(inches(c)) for c in given] or None
    if not isinstance(given, dict):
        return None
    first, spacing = inches(given["first"]), inches(given["spacing"])
    return [_tick(first + i * spacing) for i in range(int((reach - first) / spacing) + 2)]


def _tick(value: Fraction) -> Fraction:
    return Fraction(math.floor(value * 64 + Fraction(1, 2)), 64)


def _down(value: Fraction) -> Fraction:
    return Fraction(math.floor(value * 16), 16)


def _between(top: Fraction, lines: list[Document], clearance: Fraction) -> list[Fraction]:
    """Return the lengths of furring that fit beside ``lines`` below ``top``, rounded down."""
    known = [f for f in lines if f.get("bottom") is not None and f.get("top") is not None]
    edges = sorted((inches(f["bottom"]) - clearance, inches(f["top"]) + clearance) for f in known)
    lengths, start = [], Fraction(0)
    for low, high in edges:
        lengths.append(min(low, top) - start)
        start = max(start, high)
    lengths.append(top - start)
    return [_down(length) for length in lengths if length >= 3]
