"""Counting what a job needs, line by line, from its walls, braces and hardware choice."""

from __future__ import annotations

from collections.abc import Sequence

from contractor.engine.data.steel_shapes import default_grade
from contractor.engine.errors import InputError
from contractor.engine.materials.backer import BackerPlan, plan_backer
from contractor.engine.materials.bolts import bolt_set, of_diameter
from contractor.engine.materials.catalogue import Catalogue, Part
from contractor.engine.materials.furring import furring_caution, plan_furring
from contractor.engine.materials.hardware import Hardware
from contractor.engine.materials.work import Line, Piece, TakeOff, WallTakeOff, WallWork
from contractor.engine.units import TICKS_PER_INCH, format_length

_DRESSED_TWO_BY_TICKS = 96


def take_off(walls: Sequence[WallWork], hardware: Hardware, catalogue: Catalogue) -> TakeOff:
    """Count everything for one job. Raises InputError where the catalogue lacks a part."""
    kit = catalogue.one("homeowner_kit", "the homeowner")
    has_braces = any(work.braces for work in walls)
    job_lines = (
        (Line(kit, None, 1, "One re-tightening kit for the homeowner, per job."),)
        if has_braces
        else ()
    )
    counted = tuple(_WallCount(work, hardware, catalogue).result() for work in walls)
    return TakeOff(counted, job_lines, hardware)


class _WallCount:
    """Counts one wall, collecting lines, unknowns and cautions on the way."""

    def __init__(self, work: WallWork, hardware: Hardware, catalogue: Catalogue) -> None:
        self.work = work
        self.hardware = hardware
        self.catalogue = catalogue
        self.number = len(work.braces)
        self.lines: list[Line] = []
        self.unknowns: list[str] = []
        self.cautions: list[str] = []
        self.counts = dict.fromkeys(
            ("brace", "backer", "block", "furring_piece", "special_moved", "sealed_hole"), 0
        ) | {"wall": 1 if work.braces else 0}
        self.backer: BackerPlan | None = None

    def result(self) -> WallTakeOff:
        if self.number:
            self.counts["brace"] = self.number
            self._count_beams()
            self._count_brackets()
            self._count_anchors()
            if self.work.is_parallel:
                self._count_backers()
            self._count_furring()
            self._count_moved()
            self._add(self._part("label", "a brace"), self.number, "One date label per brace.")
        return WallTakeOff(
            *(self.work, tuple(self.lines), self.backer, self.counts),
            *(tuple(self.unknowns), tuple(self.cautions)),
        )

    # ------------------------------------------------------------ parts

    def _part(self, role: str, wanted: str, fits: list[Part] | None = None) -> Part:
        return self.catalogue.one(role, wanted, fits)

    def _add(
        self,
        part: Part,
        count: int,
        because: str,
        pieces: tuple[Piece, ...] = (),
        is_provisional: bool = False,
    ) -> None:
        if count:
            line = Line(part, self.work.name, count, because, pieces, is_provisional)
            self.lines.append(line)

    def _beam_part(self) -> Part:
        shape = self.hardware.shape
        grade = self.hardware.grade or default_grade(shape)
        return self._part(
            "beam",
            f"{shape} {grade}",
            [
                part
                for part in self.catalogue.with_role("beam")
                if (part.profile or "").lower() == shape.lower()
                and (part.grade or "").lower() == grade.lower()
            ],
        )

    def _fitting(self, role: str) -> Part:
        shape = self.hardware.shape.lower()
        parts = self.catalogue.with_role(role)
        return self._part(role, shape, [p for p in parts if shape in {s.lower() for s in p.fits}])

    # ------------------------------------------------------------ counting

    def _count_beams(self) -> None:
        part = self._beam_part()
        longest = max(stock.length_ticks for stock in part.stock)
        for brace in self.work.braces:
            if brace.beam_ticks > longest:
                raise InputError(
                    "beam_longer_than_stock",
                    "/parts",
                    f"{brace.mark} needs {format_length(brace.beam_ticks)}; the longest "
                    f"{part.description} in the catalogue is {format_length(longest)}.",
                    "Add a longer stock length or choose another shape.",
                )
        pieces = tuple(Piece(b.mark, b.beam_ticks, b.is_measured) for b in self.work.braces)
        is_provisional = not all(piece.is_measured for piece in pieces)
        if is_provisional:
            self.unknowns.append(
                f"{self.work.name}: heights are between stations or not confirmed; "
                "measure again at every brace before sawing."
            )
        self._add(part, self.number, "One beam per brace.", pieces, is_provisional)

    def _count_brackets(self) -> None:
        top, bottom = self._fitting("top_bracket"), self._fitting("bottom_bracket")
        self._add(top, self.number, "One top bracket per brace.")
        self._add(bottom, self.number, "One bottom bracket per brace.")
        tightening = self._part("tightening_bolt", "the top bracket")
        self._add(tightening, self.number, "One tightening bolt with its nut per brace.")
        self._count_through_bolts(top)

    def _count_through_bolts(self, bracket: Part) -> None:
        grip = self._grip_ticks() + (bracket.plate_thickness_ticks or 0)
        found = bolt_set(self.catalogue, self.hardware, grip)
        each = self.hardware.through_bolts_per_bracket
        into = "backer" if self.work.is_parallel else "joist"
        bolts = self.number * each
        self._add(found.bolt, bolts, f"{each} through bolts per bracket into the {into}.")
        plates, washers = self.hardware.plate_washers_per_bolt, self.hardware.washers_per_bolt
        self._add(found.plate_washer, bolts * plates, f"{plates} on the wood per through bolt.")
        self._add(found.washer, bolts * washers, f"{washers} under the nut per through bolt.")
        self._add(found.nut, bolts, "One nut per through bolt.")

    def _grip_ticks(self) -> int:
        """Return the wood a through bolt passes: the joist, or the backer when parallel."""
        if self.work.is_parallel:
            return self.work.survey.rules.backer_thickness_ticks
        thickness = self.work.survey.framing.joist_thickness_ticks
        if thickness is None:
            self.unknowns.append(
                f"{self.work.name}: the joist thickness is not known; through bolts are counted "
                "for 1 1/2 in."
            )
        return thickness or _DRESSED_TWO_BY_TICKS

    def _count_anchors(self) -> None:
        diameter = self.hardware.anchor_diameter_ticks
        part = self._part(
            "anchor", format_length(diameter), of_diameter(self.catalogue, "anchor", diameter)
        )
        each = self.hardware.anchors_per_bracket
        self._add(part, self.number * each, f"{each} anchors per bottom bracket.")
        gap = self.work.survey.slab.edge_gap_ticks
        if gap == 0:
            return
        holes = self.number * each
        sealant = self._part("sealant", "holes through the footing")
        why = f"{holes} anchor holes meet the slab's edge gap; one covers {sealant.covers}."
        if gap is None:
            why = f"Slab edge not known: counted for {holes} holes; one covers {sealant.covers}."
            self.unknowns.append(
                f"{self.work.name}: nobody looked for a gap or drain at the slab edge; sealant is "
                "counted as if holes went through the footing."
            )
        self.counts["sealed_hole"] = holes
        self._add(sealant, -(-holes // sealant.covers), why, is_provisional=gap is None)

    def _count_backers(self) -> None:
        framing = self.work.survey.framing
        thickness = framing.joist_thickness_ticks or _DRESSED_TWO_BY_TICKS
        plan = self.backer = plan_backer(framing, self.hardware, thickness)
        backer = self._part(
            "backer",
            format_length(self.hardware.backer_ticks),
            [
                part
                for part in self.catalogue.with_role("backer")
                if part.length_ticks == self.hardware.backer_ticks
            ],
        )
        self._add(backer, self.number, "One backer per brace under joists along the wall.")
        self._add_blocks(plan)
        self._add_fasteners(plan)
        self._warn_of_backer(plan)
        self.counts["backer"] = self.number
        self.counts["block"] = self.number * len(plan.blocks)

    def _add_blocks(self, plan: BackerPlan) -> None:
        part = self._blocking_part()
        pieces = tuple(
            Piece(f"{brace.mark} block {i + 1}", block.cut_ticks, block.is_measured)
            for brace in self.work.braces
            for i, block in enumerate(plan.blocks)
        )
        self._add(
            part,
            len(pieces),
            "A block in every bay a backer crosses, as deep as the joists.",
            pieces,
            is_provisional=not all(piece.is_measured for piece in pieces),
        )

    def _blocking_part(self) -> Part:
        """Return blocking of the joists' size, else the deepest that fits."""
        framing = self.work.survey.framing
        parts = self.catalogue.with_role("blocking")
        if same := [part for part in parts if part.profile == framing.size]:
            return self._part("blocking", framing.size or "", same)
        depth = framing.joist_depth_ticks or 0
        low = sorted(
            (part for part in parts if (part.width_ticks or 0) <= depth),
            key=lambda part: (-(part.width_ticks or 0), part.code),
        )
        self.unknowns.append(
            f"{self.work.name}: no blocking of the joists' size ({framing.size or 'not known'}); "
            f"the deepest that fits {format_length(depth)} is counted."
        )
        return self._part("blocking", f"joists {format_length(depth)} deep", low[:1])

    def _add_fasteners(self, plan: BackerPlan) -> None:
        nails = self.hardware.fastening == "nails"
        part = self._part("nail" if nails else "screw", "backer and blocking")
        each = plan.fasteners(self.hardware.counts)
        self._add(
            part,
            self.number * sum(each.values()),
            f"Per backer {each['block_ends']} in block ends, {each['backer_to_blocks']} into "
            f"blocks, {each['backer_to_joists']} into joists.",
            is_provisional=not plan.is_measured,
        )
        if not nails:
            self.cautions.append(
                "Screws instead of nails: structural screws with a published capacity only; "
                "deck and drywall screws snap."
            )

    def _warn_of_backer(self, plan: BackerPlan) -> None:
        name = self.work.name
        if not plan.is_measured:
            spacing = format_length(self.hardware.assumed_joist_spacing_ticks)
            self.unknowns.append(
                f"{name}: joist centres not measured; blocks are counted at {spacing} and cut "
                "on site."
            )
        elif not plan.blocks or not plan.blocks[0].is_measured:
            self.unknowns.append(
                f"{name}: the first bay at the rim is rarely the module; measure its clear width "
                "before sawing its block."
            )
        if len(plan.joist_ticks) < 2:
            self.cautions.append(f"{name}: a backer meets fewer than two joists; it holds nothing.")

    def _count_furring(self) -> None:
        pieces: list[Piece] = []
        for brace in self.work.braces:
            if brace.furring_layers:
                furring = plan_furring(self.work, brace)
                pieces.extend(furring.pieces)
                self.unknowns.extend(furring.unknowns)
        if not pieces:
            return
        flange = self._beam_part().flange_width_in or 0.0
        wide = sorted(
            (
                part
                for part in self.catalogue.with_role("furring")
                if (part.width_ticks or 0) / TICKS_PER_INCH >= flange
            ),
            key=lambda part: (part.width_ticks or 0, part.code),
        )
        part = self._part("furring", f"a flange of {flange:g} in", wide[:1])
        self._add(part, len(pieces), "Flat layers that clear lines which stay.", tuple(pieces))
        screws = self.hardware.screws_per_furring_piece
        screw = self._part("furring_screw", "furring")
        self._add(screw, screws * len(pieces), f"{screws} screws per furring piece.")
        self.counts["furring_piece"] = len(pieces)
        if caution := furring_caution(self.work):
            self.cautions.append(caution)

    def _count_moved(self) -> None:
        moved = self.work.moved_features()
        self.counts["special_moved"] = len(moved)
        if moved:
            self.cautions.append(
                f"{self.work.name}: {', '.join(moved)} must come down and go back; pipes, gas and "
                "wiring are for the licensed trade."
            )
