"""Furring behind a brace: flat 2x layers that carry it past a line which stays on the wall."""

from __future__ import annotations

from dataclasses import dataclass

from contractor.engine.materials.work import Piece, PlacedBrace, WallWork
from contractor.engine.units import floor_to_sixteenth, format_length

#: A shorter piece splits and holds nothing; common practice.
LEAST_PIECE_TICKS = 3 * 64


@dataclass(frozen=True)
class Furring:
    """Pieces for one brace; ``unknowns`` says which heights nobody measured."""

    pieces: tuple[Piece, ...]
    unknowns: tuple[str, ...]


def plan_furring(work: WallWork, brace: PlacedBrace) -> Furring:
    """Return the furring pieces of one brace, cut around the lines that it clears.

    Each layer runs the length of the beam with a gap of the company's clearance above and below
    each line. A line of unknown height leaves the piece whole, to be cut on site.
    """
    gaps: list[tuple[int, int]] = []
    unknowns: list[str] = []
    clearance = work.survey.rules.clearance_ticks
    for line in work.met_by(brace):
        if line.is_removable or line.kind != "line":
            continue
        if line.bottom_ticks is None or line.top_ticks is None:
            unknowns.append(
                f"{work.name}, {brace.mark}: the height of {line.label} is not known; "
                "furring is counted whole and cut around it on site."
            )
        else:
            gaps.append((line.bottom_ticks - clearance, line.top_ticks + clearance))
    stretches = _free_stretches(brace.beam_ticks, sorted(gaps))
    pieces = tuple(
        Piece(f"{brace.mark} furring", floor_to_sixteenth(end - start), brace.is_measured)
        for _ in range(brace.furring_layers)
        for start, end in stretches
    )
    return Furring(pieces, tuple(unknowns))


def _free_stretches(top_ticks: int, gaps: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return [0, top] without ``gaps`` (sorted), dropping what is too short to hold."""
    stretches: list[tuple[int, int]] = []
    start = 0
    for low, high in gaps:
        stretches.append((start, min(low, top_ticks)))
        start = max(start, high)
    stretches.append((start, top_ticks))
    return [(a, b) for a, b in stretches if b - a >= LEAST_PIECE_TICKS]


def furring_caution(work: WallWork) -> str | None:
    """Return what to say where the company's furring layer is not a flat 2x."""
    layer = work.survey.rules.furring_layer_ticks
    if layer == 96 or not any(brace.furring_layers for brace in work.braces):
        return None
    return f"{work.name}: furring layers are {format_length(layer)}; flat 2x stock is 1 1/2 in."
