"""What materials are counted from: walls with their placed braces; and what is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from contractor.engine.layout import Layout
from contractor.engine.materials.backer import BackerPlan
from contractor.engine.materials.catalogue import Part
from contractor.engine.materials.hardware import Hardware
from contractor.engine.survey import Feature, Survey

#: Load constant of the revised NIOSH lifting equation (NIOSH 94-110): 51 lb under the best of
#: conditions, for one person.
ONE_PERSON_LIFT_LB = 51.0
TICKS_PER_FOOT = 768


@dataclass(frozen=True)
class PlacedBrace:
    """One brace of a layout; ``specials`` are the labels of what it meets."""

    mark: str
    at_ticks: int
    beam_ticks: int
    is_measured: bool
    furring_layers: int = 0
    specials: tuple[str, ...] = ()


@dataclass(frozen=True)
class WallWork:
    """One wall of a job; ``name`` is unique in the job."""

    name: str
    survey: Survey
    braces: tuple[PlacedBrace, ...]

    @property
    def is_parallel(self) -> bool:
        return self.survey.framing.direction == "parallel"

    def met_by(self, brace: PlacedBrace) -> tuple[Feature, ...]:
        return tuple(f for f in self.survey.features if f.label in brace.specials)

    def moved_features(self) -> tuple[str, ...]:
        """Return the labels of removable things that a brace stands on, each once."""
        labels = {
            feature.label
            for brace in self.braces
            for feature in self.met_by(brace)
            if feature.is_removable
        }
        return tuple(sorted(labels))


@dataclass(frozen=True)
class Piece:
    """One piece to saw from a bar; ``mark`` says for which brace."""

    mark: str
    length_ticks: int
    is_measured: bool


@dataclass(frozen=True)
class Line:
    """One line of a bill. Bars have pieces; ``wall`` is None for what the job needs once."""

    part: Part
    wall: str | None
    count: int
    because: str
    pieces: tuple[Piece, ...] = ()
    is_provisional: bool = False

    @property
    def weight_lb(self) -> float:
        if self.part.kind == "bar":
            return sum(self.piece_weights_lb())
        return self.count * self.part.weight_lb

    def piece_weights_lb(self) -> list[float]:
        """Return the weight of each piece that somebody lifts."""
        if self.part.kind == "bar":
            per_tick = self.part.weight_lb / TICKS_PER_FOOT
            return [piece.length_ticks * per_tick for piece in self.pieces]
        return [self.part.weight_lb] * self.count

    @property
    def packs(self) -> int:
        return -(-self.count // self.part.pack_size)


@dataclass(frozen=True)
class WallTakeOff:
    """What one wall needs. ``counts`` holds how often a task of each ``per`` is done."""

    work: WallWork
    lines: tuple[Line, ...]
    backer: BackerPlan | None
    counts: dict[str, int]
    unknowns: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class TakeOff:
    walls: tuple[WallTakeOff, ...]
    job_lines: tuple[Line, ...]
    hardware: Hardware

    @property
    def lines(self) -> tuple[Line, ...]:
        return tuple(line for wall in self.walls for line in wall.lines) + self.job_lines

    def gaps(self) -> list[str]:
        """Return which parts have no weight or no price in the catalogue."""
        parts = {line.part.code: line.part for line in self.lines}.values()
        weights = [part.code for part in parts if not part.is_weight_known]
        prices = [part.code for part in parts if not part.is_price_known]
        found = []
        if weights:
            found.append(f"No weight in the catalogue: {', '.join(weights)}; totals leave it out.")
        if prices:
            found.append(f"No price in the catalogue: {', '.join(prices)}; totals leave it out.")
        return found

    def task_count(self, per: str) -> int:
        if per == "job":
            return 1
        return sum(wall.counts[per] for wall in self.walls)

    def heavy_pieces(self) -> list[tuple[str, str, float]]:
        """Return (wall, what, lb) of pieces above what one person should lift."""
        return [
            (line.wall or "job", line.part.description, weight)
            for line in self.lines
            for weight in line.piece_weights_lb()
            if weight > ONE_PERSON_LIFT_LB
        ]


def total_weight_lb(lines: Sequence[Line]) -> float:
    return sum(line.weight_lb for line in lines)


def work_of(survey: Survey, layout: Layout, name: str | None = None) -> WallWork:
    """Return the work of one laid-out wall; ``name`` defaults to the survey's."""
    braces = tuple(
        PlacedBrace(
            *(brace.mark, brace.at_ticks, brace.beam_length_ticks, brace.basis == "measured"),
            *(brace.furring_layers, brace.specials),
        )
        for brace in layout.braces
    )
    return WallWork(name or survey.name or "wall", survey, braces)
