"""Why a visit is where it is: its cost beside the alternatives, why not elsewhere, slack."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from contractor.engine.rostering import costs
from contractor.engine.rostering.board import Board
from contractor.engine.rostering.costs import CostParts
from contractor.engine.rostering.document import HALVES, Half, Pin
from contractor.engine.rostering.legality import Obstacle, start_obstacles
from contractor.engine.rostering.plan_document import Visit

ALTERNATIVES = 3


@dataclass(frozen=True)
class Alternative:
    """Another option of the job; ``difference`` is its cost less that of the visit.

    ``holders`` work there now; without any the place is free.
    """

    visit: Visit
    parts: CostParts
    difference: int
    holders: tuple[str, ...]


@dataclass(frozen=True)
class WhyHere:
    """The parts of a visit's cost, and the best three alternatives."""

    visit: Visit
    parts: CostParts
    alternatives: tuple[Alternative, ...]


def why_here(board: Board, job_id: str) -> WhyHere:
    """Explain the visit of ``job_id``, which must be planned."""
    visit = board.visit_of[job_id]
    parts = board.parts(visit)
    others = [p for p in board.places(board.instance.job_of[job_id]) if p.visit != visit]
    return WhyHere(
        visit,
        parts,
        tuple(
            Alternative(p.visit, p.parts, p.parts.total - parts.total, p.holders)
            for p in others[:ALTERNATIVES]
        ),
    )


@dataclass(frozen=True)
class Rearrangement:
    """Visits that change when a job is put somewhere, and what the whole plan then costs more.

    ``left_out`` are holders that find no other place.
    """

    visits: tuple[Visit, ...]
    left_out: tuple[str, ...]
    extra_cost: int


@dataclass(frozen=True)
class WhyNot:
    """Why a job does not start with a crew on a day, for one half of the day.

    ``obstacles`` are hard rules. Without any, ``holders`` have the time, and
    ``rearrangement`` is the cheapest way to make room when nobody else moves; None where
    the job is there already.
    """

    half: Half
    obstacles: tuple[Obstacle, ...]
    holders: tuple[str, ...]
    rearrangement: Rearrangement | None


def why_not(board: Board, job_id: str, crew_id: str, day: date) -> tuple[WhyNot, WhyNot]:
    """Explain the morning and the afternoon start of ``job_id`` with ``crew_id`` on ``day``."""
    morning, afternoon = (_why_not(board, job_id, crew_id, day, half) for half in HALVES)
    return morning, afternoon


def _why_not(board: Board, job_id: str, crew_id: str, day: date, half: Half) -> WhyNot:
    instance = board.instance
    job, crew = instance.job_of[job_id], instance.crew_of[crew_id]
    obstacles = tuple(start_obstacles(instance, job, crew, day, half))
    needed = costs.halfdays_needed(instance, crew, job)
    if obstacles or needed is None:
        return WhyNot(half, obstacles, (), None)
    wanted = Visit(job_id, crew_id, day, half, needed)
    if board.visit_of.get(job_id) == wanted:
        return WhyNot(half, (), (), None)
    holders = board.holders(wanted)
    pin = Pin(job_id, crew_id, day, half, "question")
    return WhyNot(half, (), holders, rearranged(board, {job_id, *holders}, (pin,)))


def rearranged(board: Board, free: set[str], pins: tuple[Pin, ...] = ()) -> Rearrangement:
    """The cheapest way to place the ``free`` jobs when all other visits stay as they are.

    ``pins`` come on top of the instance's own; a pinned job is placed if it fits at all.
    """
    from contractor.engine.rostering.optimize import visits_of
    from contractor.engine.rostering.options import build_options
    from contractor.engine.rostering.part import part_of
    from contractor.engine.rostering.submodel import improve_part
    from contractor.engine.rostering.table import Room

    asked = {pin.job for pin in pins}
    own = tuple(pin for pin in board.instance.pins if pin.job not in asked)
    variant = replace(board.instance, pins=own + pins)
    table = build_options(variant)
    number = {job.id: n for n, job in enumerate(variant.jobs)}
    room = Room(table, _rows_kept(board, free))
    del room, number, part_of, improve_part, visits_of
    raise NotImplementedError
