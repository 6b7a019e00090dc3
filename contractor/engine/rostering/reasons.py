"""Why a visit is where it is: its cost beside the alternatives, why not elsewhere, slack."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from contractor.engine.rostering import costs
from contractor.engine.rostering.board import Board
from contractor.engine.rostering.costs import CostParts
from contractor.engine.rostering.document import HALVES, Half, Pin
from contractor.engine.rostering.legality import Obstacle, start_obstacles
from contractor.engine.rostering.plan_document import Visit
from contractor.engine.rostering.rearrange import Rearrangement, rearranged

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


@dataclass(frozen=True)
class Slack:
    """How far a visit could slip when nobody else moves.

    ``later_halfdays`` counts working half-days of the crew up to the latest legal free
    start with it; ``due_halfdays`` those between the end of the visit and the end of the
    due day, below 0 when it is late.
    """

    later_halfdays: int
    latest_start: date
    latest_half: Half
    due_halfdays: int


def slack(board: Board, job_id: str) -> Slack:
    """The slack of the visit of ``job_id``: later starts in one go, each legal and free."""
    visit = board.visit_of[job_id]
    job, crew = board.instance.job_of[job_id], board.instance.crew_of[visit.crew]
    begin = board.start_of(visit)
    free = {
        board.start_of(place.visit): place.visit
        for place in board.places(job)
        if place.visit.crew == visit.crew and not place.holders
    }
    latest = begin
    for start in sorted(start for start in free if start > begin):
        if any(
            board.holder_of.get((crew.id, cell)) not in (None, job_id)
            for cell in range(latest, start)
        ):
            break
        latest = start
    due = board.instance.calendar_of(crew).halfdays_through(job.due)
    last = free.get(latest, visit)
    return Slack(latest - begin, last.date, last.half, due - (begin + visit.halfdays))
