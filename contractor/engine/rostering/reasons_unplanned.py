"""Why a job is not planned, or not earlier, rule by rule, and what would help least."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from contractor.engine.rostering import costs
from contractor.engine.rostering.board import Board, Place
from contractor.engine.rostering.document import Instance, Job
from contractor.engine.rostering.plan_document import Visit
from contractor.engine.rostering.rearrange import Rearrangement, rearranged
from contractor.engine.rostering.rule_variants import RULES, without_all

RIVALS = 6  # holders that may be moved when the cheapest way to fit a job in is looked for


@dataclass(frozen=True)
class Step:
    """What is left after one more rule: crews, starts, and the earliest start.

    ``code`` is the rule's; the last step, ``held_by_others``, takes out the starts that
    other visits of the plan stand in the way of.
    """

    code: str
    name: str
    crews: int
    starts: int
    earliest: date | None


@dataclass(frozen=True)
class WhyUnplanned:
    """``cost`` of leaving the job out; ``cheapest`` its cheapest legal option, ``fitting`` the
    cheapest that is free. ``insertion`` is the cheapest way found to fit it in by moving
    the holders of its cheapest options; its ``extra_cost`` says why the plan does not."""

    cost: int
    steps: tuple[Step, ...]
    cheapest: Place | None
    fitting: Place | None
    insertion: Rearrangement | None


def why_unplanned(board: Board, job_id: str) -> WhyUnplanned:
    """Explain why ``job_id`` has no visit."""
    job = board.instance.job_of[job_id]
    places = board.places(job)
    free = [place for place in places if not place.holders]
    return WhyUnplanned(
        cost=costs.unplanned_cost(board.instance, job).total,
        steps=rule_by_rule(board, job),
        cheapest=places[0] if places else None,
        fitting=free[0] if free else None,
        insertion=_insertion(board, job, places),
    )


def _insertion(board: Board, job: Job, places: list[Place]) -> Rearrangement | None:
    holders: list[str] = []
    for place in places:
        new = [holder for holder in place.holders if holder not in holders]
        if len(holders) + len(new) <= RIVALS:
            holders += new
    if not places:
        return None
    found = rearranged(board, {job.id, *holders})
    placed = found is not None and any(visit.job == job.id for visit in found.visits)
    return found if placed else rearranged(board, {job.id, *places[0].holders})


def rule_by_rule(board: Board, job: Job) -> tuple[Step, ...]:
    """How many options each rule takes away, the rules put back one after the other."""
    alone = replace(board.instance, jobs=(job,))
    free_of_rules = without_all(alone)
    every = board.places(job_of(free_of_rules), free_of_rules)
    steps = [_step("any", "every crew and day", every)]
    for number, rule in enumerate(RULES):
        variant = alone
        for later in RULES[number + 1 :]:
            variant = later.lift(variant)
        steps.append(_step(rule.code, rule.name, board.places(job_of(variant), variant)))
    free = [place for place in board.places(job) if not place.holders]
    return (*steps, _step("held_by_others", "other visits", free))


def job_of(instance: Instance) -> Job:
    return instance.jobs[0]


def _step(code: str, name: str, places: list[Place]) -> Step:
    days = [place.visit.date for place in places]
    crews = {place.visit.crew for place in places}
    return Step(code, name, len(crews), len(places), min(days, default=None))


@dataclass(frozen=True)
class Relaxation:
    """One rule that, given way by ``amount`` ``unit``, lets the job start at ``visit``.

    ``saving`` is what the plan would save; nobody else moves.
    """

    code: str
    name: str
    amount: float
    unit: str
    visit: Visit
    saving: int


def relaxations(
    board: Board, job_id: str, earlier_than: date | None = None
) -> tuple[Relaxation, ...]:
    """For every rule that helps by itself the least it must give, most helpful first.

    With ``earlier_than`` only starts before that day count.
    """
    job = board.instance.job_of[job_id]
    alone = replace(board.instance, jobs=(job,))
    visit = board.visit_of.get(job_id)
    now = board.parts(visit).total if visit else costs.unplanned_cost(board.instance, job).total
    legal = {place.visit for place in board.places(job)}
    found: list[Relaxation] = []
    for rule in RULES:
        variant = rule.lift(alone)
        helped = [
            (rule.amount(alone, place.visit), place.visit.when, place)
            for place in board.places(job_of(variant), variant)
            if place.visit not in legal
            and not place.holders
            and (earlier_than is None or place.visit.date < earlier_than)
        ]
        if helped:
            amount, _, place = min(helped, key=lambda item: (item[0], item[2].parts.total, item[1]))
            saving = now - place.parts.total
            found.append(Relaxation(rule.code, rule.name, amount, rule.unit, place.visit, saving))
    return tuple(sorted(found, key=lambda relaxation: -relaxation.saving))


@dataclass(frozen=True)
class Link:
    """One step of what keeps a job from starting earlier: after ``code`` not before ``earliest``.

    ``job`` is the job that the step is about; for ``held_by`` it is the job in the way.
    """

    job: str
    code: str
    text: str
    earliest: date | None


LONGEST_CHAIN = 5


def earliest_start_chain(board: Board, job_id: str) -> tuple[Link, ...]:
    """The rules that push the job's earliest start back, then who is in the way, and so on.

    Follows the holder of the earliest legal start to what keeps that one from moving on.
    """
    links: list[Link] = []
    seen: list[str] = []
    while job_id not in seen and len(seen) < LONGEST_CHAIN:
        seen.append(job_id)
        job = board.instance.job_of[job_id]
        links += _pushes(job, rule_by_rule(board, job))
        first = min(board.places(job), key=lambda p: (p.visit.when, p.parts.total), default=None)
        if first is None or not first.holders:
            break
        holder = first.holders[0]
        text = f"{first.visit.crew} works on {holder} on {first.visit.date}"
        links.append(Link(holder, "held_by", text, board.visit_of[holder].date))
        job_id = holder
    return tuple(links)


def _pushes(job: Job, steps: tuple[Step, ...]) -> list[Link]:
    """The steps that move the earliest start."""
    found = [Link(job.id, "horizon", "first working day of the plan", steps[0].earliest)]
    for before, step in pairwise(steps):
        if step.earliest != before.earliest:
            found.append(Link(job.id, step.code, step.name, step.earliest))
    return found
