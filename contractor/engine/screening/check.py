"""Check a ``screening/1`` answer against the raw ``wall-survey/1`` document.

Loads are summed by slices, strengths come from ``check_strength``; nothing is shared with the
screening but the section table and the reader of quantities. Codes of violations:

malformed, wrong_schema, missing_disclaimer, forbidden_word, wrong_tributary, wrong_span,
wrong_class, wrong_soil, wrong_load, wrong_demand, wrong_utilization, wrong_bending, wrong_bolts,
wrong_anchors, wrong_wall, missed_stop, wrong_outcome, wrong_governing, wrong_spacing_limit.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from contractor.engine.data.lumber import dressed_size_in
from contractor.engine.data.steel_shapes import shapes
from contractor.engine.screening import check_strength as strength
from contractor.engine.units import read_length, read_quantity

Document = dict[str, Any]
_FORBIDDEN = re.compile(r"\b(approved|safe)\b", re.IGNORECASE)
LOAD_TOLERANCE = 2e-3
STRENGTH_TOLERANCE = 2.5e-2
RATIO_TOLERANCE = 1e-4


@dataclass(frozen=True)
class Violation:
    code: str
    text: str


def check_screening(survey: Document, answer: Document) -> list[Violation]:
    """Return what is wrong with ``answer`` for ``survey`` (decoded JSON), [] when nothing is."""
    try:
        return _Check(survey, answer).run()
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as wrong:
        return [Violation("malformed", f"The documents cannot be read: {wrong!r}.")]


def _inches(value: Any) -> float:
    return read_length(value, "") / 64


def _q(document: Document, unit: str) -> float:
    return read_quantity(document, unit, "")


def _near(found: float, wanted: float, tolerance: float) -> bool:
    return math.isclose(found, wanted, rel_tol=tolerance, abs_tol=1e-6)


class _Check:
    def __init__(self, survey: Document, answer: Document) -> None:
        self.survey, self.answer = survey, answer
        self.found: list[Violation] = []
        wall = survey["wall"]
        self.length = read_length(wall["length"], "")
        self.fill = _optional(wall.get("fill_height"))
        self.thickness = _optional(wall.get("thickness"))
        rules = survey.get("rules") or {}
        self.top_gap = _inches(rules.get("top_gap") or "1/2 in")
        self.backer = _inches(rules.get("backer_thickness") or "1 1/2 in")
        self.heights = sorted(
            (read_length(row["at"], ""), _inches(row["slab_to_subfloor"]))
            for row in survey["heights"]
        )

    def add(self, code: str, text: str) -> None:
        self.found.append(Violation(code, text))

    def run(self) -> list[Violation]:
        if self.answer["schema"] != "screening/1":
            self.add("wrong_schema", "The answer is no screening/1.")
        if "not engineering design" not in self.answer.get("disclaimer", ""):
            self.add("missing_disclaimer", "The sheet does not say what it is not.")
        for text in _texts(self.answer):
            if _FORBIDDEN.search(text):
                self.add("forbidden_word", f"A verdict word stands in {text[:60]!r}.")
        self.braces()
        self.soil()
        for group in self.answer["classes"]:
            self.loads(group)
            self.beam(group)
            self.bolts(group)
            self.anchors(group)
        for check in self.checks():
            self.utilization(check)
        self.bays()
        self.stops()
        self.verdict()
        self.spacing_limit()
        return self.found

    def checks(self) -> Iterator[Document]:
        for group in self.answer["classes"]:
            yield from group["checks"]
        for bay in self.answer["bays"]:
            yield bay["check"]

    # ------------------------------------------------------------ geometry

    def braces(self) -> None:
        rows = self.answer["braces"]
        at = [0, *(read_length(row["at"], "") for row in rows), self.length]
        groups = {group["name"]: group for group in self.answer["classes"]}
        for number, row in enumerate(rows, start=1):
            width = (at[number + 1] - at[number - 1]) / 128
            span = self.span(at[number])
            if not _near(_q(row["tributary_width"], "in"), width, 1e-3):
                self.add("wrong_tributary", f"{row['mark']} carries {width:g} in of wall.")
            if not _near(_q(row["span"], "in"), span, 1e-4):
                self.add("wrong_span", f"{row['mark']} spans {span:g} in.")
            group = groups.get(row["class"])
            if group is not None and (
                row["mark"] not in group["marks"]
                or not _near(_q(group["span"], "in"), _q(row["span"], "in"), 1e-6)
            ):
                self.add("wrong_class", f"{row['mark']} is not of {row['class']}.")

    def span(self, at: int) -> float:
        """Return slab to the middle of the joist, or to the underside of the backer less gap."""
        height = next((tall for place, tall in self.heights if place == at), None)
        for (left, low), (right, high) in zip(self.heights, self.heights[1:], strict=False):
            if height is None and left < at < right:
                height = low + (high - low) * (at - left) / (right - left)
        if height is None:
            raise ValueError("a brace outside the stations")
        framing = self.survey["framing"]
        size = dressed_size_in(framing.get("size"))
        depth = _optional(framing.get("depth")) or (size[1] if size else None)
        if framing["joists"] == "parallel":
            return height - (depth or 0.0) - self.backer - self.top_gap
        return height - (depth / 2 if depth else self.top_gap)

    # ------------------------------------------------------------ loads

    def soil(self) -> None:
        soil = self.answer["soil"]
        given = self.survey.get("soil") or {}
        if soil is None or self.fill is None:
            return
        if soil["clause"] == "IBC 2021 Table 1610.1" and self.fill <= 96:
            wanted = strength.IBC_ACTIVE.get(str(given.get("class")))
            if wanted is None or not _near(self.fluid(), wanted, 1e-9):
                self.add("wrong_soil", "The fluid weight is not the table's.")
        elif given.get("equivalent_fluid_weight") is not None:
            wanted = read_quantity(given["equivalent_fluid_weight"], "psf/ft", "")
            if not _near(self.fluid(), wanted, 1e-9):
                self.add("wrong_soil", "The fluid weight is not the survey's.")

    def fluid(self) -> float:
        return _q(self.answer["soil"]["equivalent_fluid_weight"], "psf/ft")

    def pressure(self, x: float) -> float:
        """Return the pressure in psf at a height, from the layers that the answer names.

        A single dry layer without surcharge is worked out anew from the fill instead.
        """
        soil = self.answer["soil"]
        layers = soil["layers"]
        is_plain = len(layers) == 1 and _q(soil["surcharge"], "psf") == 0
        if is_plain and _q(soil["water_height"], "in") == 0 and self.fill is not None:
            return max(0.0, self.fluid() * (self.fill - x) / 12)
        for layer in layers:
            low, high = _q(layer["bottom"], "in"), _q(layer["top"], "in")
            if low <= x <= high:
                base, top = (_q(layer[f"pressure_at_{end}"], "psf") for end in ("bottom", "top"))
                return base + (top - base) * (x - low) / (high - low)
        return 0.0

    def loads(self, group: Document) -> None:
        span, width = _q(group["span"], "in"), _q(group["tributary_width"], "in")
        self.sliced = strength.slice_beam(self.pressure, span, width)
        for name in ("total", "reaction_top", "reaction_base"):
            if not _near(_q(group[name], "lbf"), self.sliced[name], LOAD_TOLERANCE):
                self.add("wrong_load", f"{group['name']}: {name} is {self.sliced[name]:.1f} lbf.")
        if not _near(_q(group["moment"], "lbf in"), self.sliced["moment"], LOAD_TOLERANCE):
            self.add("wrong_load", f"{group['name']}: moment is {self.sliced['moment']:.0f}.")

    def demand(self, group: Document, check: Document, unit: str, wanted: float) -> None:
        if not _near(_q(check["demand"], unit), wanted, LOAD_TOLERANCE):
            self.add("wrong_demand", f"{group['name']} {check['code']}: demand is {wanted:.4g}.")

    # ------------------------------------------------------------ strengths

    def beam(self, group: Document) -> None:
        beam = self.answer["beam"]
        shape = shapes()[beam["shape"]]
        section = {
            "zx": shape.zx_in3,
            "sx": shape.sx_in3,
            "ry": shape.ry_in,
            "iy": shape.iy_in4,
            "j": shape.j_in4,
            "cw": shape.cw_in6,
            "bf": shape.flange_width_in,
            "tf": shape.flange_in,
        }
        fy, checks = _q(beam["yield_strength"], "ksi"), _by_code(group["checks"])
        bending = checks["beam_bending"]
        self.demand(group, bending, "kip in", self.sliced["moment"] / 1000)
        wanted = strength.bending_allowable(section, fy, _q(group["span"], "in"))
        if not _near(_q(bending["capacity"], "kip in"), wanted, STRENGTH_TOLERANCE):
            self.add("wrong_bending", f"{group['name']}: allowable moment is {wanted:.1f} kip in.")
        shear = 0.4 * fy * shape.depth_in * shape.web_in
        if not _near(_q(checks["beam_shear"]["capacity"], "kip"), shear, 1e-3):
            self.add("wrong_bending", f"{group['name']}: allowable shear is {shear:.2f} kip.")
        bent = self.sliced["ei_deflection"] / (strength.E_KSI * 1000 * shape.ix_in4)
        self.demand(group, checks["beam_deflection"], "in", bent)

    def bolts(self, group: Document) -> None:
        checks = _by_code(group["checks"])
        bolts, nails = checks["top_bolts"], checks.get("backer_nails")
        if bolts["not_computed"] is None:
            given = _by_symbol(bolts["inputs"])
            d, gravity = _q(given["D"], "in"), given["G"]["value"]
            wood = round(11200 * gravity / 50) * 50.0
            main, side = (_q(given["lm"], "in"), wood), (_q(given["ls"], "in"), 87_000.0)
            one = strength.dowel_lbf(d, main, side, 45_000.0, (4.0, 3.6, 3.2))
            self.between(group, bolts, 0.9 * given["n"]["value"] * one)
            self.demand(group, bolts, "lbf", self.sliced["reaction_top"])
        if nails is not None and nails["not_computed"] is None:
            given = _by_symbol(nails["inputs"])
            self.demand(group, nails, "lbf", self.sliced["reaction_top"])
            if given["joists"]["value"] < 1:
                self.add("wrong_bolts", f"{group['name']}: the backer crosses no joist.")

    def between(self, group: Document, check: Document, most: float) -> None:
        """Group action and placement may take up to a third, and never add."""
        if not 0.67 * most <= _q(check["capacity"], "lbf") <= 1.005 * most:
            self.add("wrong_bolts", f"{group['name']}: the bolts hold at most {most:.0f} lbf.")

    def anchors(self, group: Document) -> None:
        checks = _by_code(group["checks"])
        pryout = checks.get("anchor_pryout")
        if pryout is None:
            return
        given = _by_symbol(pryout["inputs"])
        slab, depth = _q(given["ha"], "in"), _q(given["hef"], "in")
        if depth > max(2 * slab / 3, slab - 4) + 1e-6:
            self.add("wrong_anchors", "The anchors are deeper than the slab allows.")
        wanted = strength.anchor_pryout_lbf(
            given["n"]["value"],
            _q(self.answer["fixings"]["base_anchors"]["spacing"], "in"),
            _q(self.answer["fixings"]["base_anchors"]["edge_distance"], "in"),
            depth,
            _q(given["f'c"], "psi"),
        )
        if not _near(_q(pryout["capacity"], "lbf"), wanted, 5e-3):
            self.add("wrong_anchors", f"{group['name']}: pryout is {wanted:.0f} lbf.")
        factored = given["H factor"]["value"] * self.sliced["reaction_base"]
        self.demand(group, pryout, "lbf", factored)

    def bays(self) -> None:
        places = [read_length(row["at"], "") for row in self.answer["braces"]]
        edges = [0, *places, self.length] if places else []
        widths = [right - left for left, right in itertools.pairwise(edges)]
        if [read_length(bay["width"], "") for bay in self.answer["bays"]] != widths:
            self.add("wrong_wall", "The bays are not those between the braces.")
        for bay in self.answer["bays"]:
            check = bay["check"]
            if check["not_computed"] is None and self.survey["wall"]["kind"] == "poured_concrete":
                self.concrete_bay(_q(bay["width"], "in"), check)

    def concrete_bay(self, width: float, check: Document) -> None:
        assert self.thickness is not None
        moment = self.pressure(6.0) * (width / 12) ** 2 / 8 * 12
        stress = 1.6 * moment / (2 * self.thickness**2)
        fc = _q(_by_symbol(check["inputs"])["f'c"], "psi")
        if not _near(_q(check["demand"], "psi"), stress, LOAD_TOLERANCE) or not _near(
            _q(check["capacity"], "psi"), 3.0 * math.sqrt(fc), 1e-3
        ):
            self.add("wrong_wall", f"The wall over {width:g} in: {stress:.1f} psi.")

    # ------------------------------------------------------------ verdict

    def utilization(self, check: Document) -> None:
        if check["not_computed"] is not None or check["utilization"] is None:
            if check["passes"]:
                self.add("wrong_utilization", f"{check['code']} passes without a number.")
            return
        ratio = check["demand"]["value"] / check["capacity"]["value"]
        if not _near(check["utilization"], ratio, RATIO_TOLERANCE):
            self.add("wrong_utilization", f"{check['code']}: {ratio:.4f}.")
        if check["passes"] != (check["utilization"] <= 1.0) and abs(ratio - 1) > 1e-5:
            self.add("wrong_utilization", f"{check['code']}: passes is {check['passes']}.")

    def stops(self) -> None:
        named = {reason["code"] for reason in self.answer["reasons"]}
        for code in self.wanted_stops():
            if code not in named:
                self.add("missed_stop", f"The stop {code} is not named.")

    def wanted_stops(self) -> Iterator[str]:
        """Yield the stops that the raw survey alone asks for."""
        survey, soil = self.survey, self.survey.get("soil") or {}
        slab, distress = survey.get("slab") or {}, survey.get("distress") or {}
        facts = {
            "soil_unknown": soil.get("class") is None
            and soil.get("equivalent_fluid_weight") is None,
            "soil_unsuitable": soil.get("class") in ("OL", "MH", "CH", "OH"),
            "thickness_unknown": self.thickness is None,
            "fill_unknown": self.fill is None,
            "fill_above_8_ft": (self.fill or 0) > 96,
            "stone_wall": survey["wall"].get("kind") == "stone",
            "brick_wall": survey["wall"].get("kind") == "brick",
            "wood_wall": survey["wall"].get("kind") == "wood",
            "i_joists": survey["framing"]["kind"] == "i_joist",
            "slab_edge_gap": (_optional(slab.get("edge_gap")) or 0) > 0,
            "slab_unknown": slab.get("thickness") is None,
            "base_slide": (_optional(distress.get("base_slide")) or 0) > 0,
            "wall_settling": bool(distress.get("settling")),
        }
        yield from (code for code, is_so in facts.items() if is_so)
        yield from self.bow_stops(distress.get("readings") or [])

    def bow_stops(self, readings: list[Document]) -> Iterator[str]:
        worst = max((_inches(reading["inward"]) for reading in readings), default=0.0)
        third = (self.thickness or math.inf) / 3
        if worst > third:
            yield "bow_above_t3"
        if worst > third / 2:
            yield "bow_above_t6"
        if worst > 3:
            yield "bow_above_3_in"
        if worst > 2:
            yield "bow_above_2_in"

    def verdict(self) -> None:
        checks = list(self.checks())
        computed = [check for check in checks if check["utilization"] is not None]
        is_clean = not self.answer["reasons"] and all(check["passes"] for check in checks)
        wanted = "within screening limits" if is_clean and checks else "engineer review needed"
        if self.answer["outcome"] != wanted:
            self.add("wrong_outcome", f"The outcome is {wanted!r}.")
        worst = max((check["utilization"] for check in computed), default=None)
        governing = self.answer["governing"]
        named = governing["utilization"] if governing else None
        if worst is not None and named is not None and not _near(named, worst, 1e-6):
            self.add("wrong_governing", f"The most used check stands at {worst}.")

    def spacing_limit(self) -> None:
        """A spacing that the answer names must pass on every span that it screened."""
        value = self.answer["spacing_limit"]["value"]
        if value is None:
            return
        limit = _q(value, "in")
        for group in self.answer["classes"]:
            scale = limit / _q(group["tributary_width"], "in")
            for check in group["checks"]:
                if check["code"] != "anchor_interaction" and check["utilization"] is not None:
                    self.limit_holds(check["code"], check["utilization"] * scale)
        for bay in self.answer["bays"]:
            if bay["check"]["utilization"] is not None:
                scale = (limit / _q(bay["width"], "in")) ** 2
                self.limit_holds("wall_between_braces", bay["check"]["utilization"] * scale)

    def limit_holds(self, code: str, ratio: float) -> None:
        if ratio > 1.001:
            self.add("wrong_spacing_limit", f"At the limit {code} is used {ratio:.3f}.")


def _optional(value: Any) -> float | None:
    return None if value is None else _inches(value)


def _by_code(checks: list[Document]) -> dict[str, Document]:
    return {check["code"]: check for check in checks}


def _by_symbol(inputs: list[Document]) -> dict[str, Document]:
    return {number["symbol"]: number["value"] for number in inputs}


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for member in value.values():
            yield from _texts(member)
    elif isinstance(value, list):
        for member in value:
            yield from _texts(member)
