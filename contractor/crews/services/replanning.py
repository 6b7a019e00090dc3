"""From a document to an answer and a report: a first plan, or the published one brought in line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from contractor.crews.models import CrewPlan, Visit
from contractor.crews.services.flow import Watch
from contractor.crews.services.happenings import happenings, openings
from contractor.crews.services.instance import Built
from contractor.engine.rostering.events import Event
from contractor.engine.rostering.plan_document import Change, InstallPlan, plan_to_document
from contractor.engine.rostering.plan_document import Visit as EngineVisit
from contractor.engine.rostering.reading import read_instance

Answer = dict[str, Any]


@dataclass(frozen=True)
class Solved:
    """``answer`` is an ``install-plan/1``; ``report`` says what it changes and why."""

    answer: Answer
    report: dict[str, Any]
    progress: dict[str, Any]


def solve(plan: CrewPlan, document: dict[str, Any], built: Built, watch: Watch) -> Solved:
    """Run the engine on ``document`` within the time of ``plan``. Holds no lock."""
    if built.visits.movable:
        return _solve_again(plan, document, built, watch)
    return _solve_first(plan, document, watch)


def _solve_first(plan: CrewPlan, document: dict[str, Any], watch: Watch) -> Solved:
    from contractor.engine.rostering import optimize

    found = optimize.plan(
        read_instance(document),
        seconds=plan.seconds,
        seed=plan.seed,
        progress=lambda progress: watch.say(asdict(progress)),
        cancelled=watch.is_discarded,
    )
    added = [int(visit.job) for visit in found.visits]
    report = {"events": [], "confirmed": [], "tentative": [], "added": added, "moves": 0}
    return Solved(_written(found), report, _last_progress(found))


def _solve_again(plan: CrewPlan, document: dict[str, Any], built: Built, watch: Watch) -> Solved:
    from contractor.engine.rostering.replan import replan

    visits = {str(visit.job_id): visit for visit in built.visits.movable}
    planned = {job["id"] for job in document["jobs"]}
    before = _published(plan)
    events = happenings(before.instance, document)
    found = replan(
        read_instance(document),
        [_engine_visit(visit) for job, visit in visits.items() if job in planned],
        (*events, *openings(_known(before, visits), document)),
        mode="fewest-moves" if plan.mode == CrewPlan.Mode.FEWEST_MOVES else "penalty",
        tentative=frozenset(
            job for job, visit in visits.items() if visit.status == Visit.Status.TENTATIVE
        ),
        seconds=plan.seconds,
        seed=plan.seed,
        progress=lambda progress: watch.say(asdict(progress)),
        cancelled=watch.is_discarded,
    )
    after = found.plan.visit_of
    report = {
        "events": [_event(event) for event in _told(events, built)],
        "confirmed": _changes(found.plan.changes or {}, visits, after),
        "tentative": _changes(found.tentative, visits, after),
        "added": [int(job) for job in found.added],
        "untouched": [int(job) for job in found.untouched],
        "moves": found.moves,
        "fewest_moves": found.fewest,
        "is_fewest_proven": found.is_fewest_proven,
    }
    return Solved(_written(found.plan), report, _last_progress(found.plan))


def _published(plan: CrewPlan) -> CrewPlan:
    """Return the branch's plan in force, or an empty one."""
    rows = CrewPlan.objects.filter(branch=plan.branch_id, status=CrewPlan.Status.PUBLISHED)
    return rows.first() or CrewPlan()


def _known(before: CrewPlan, visits: Mapping[str, Visit]) -> set[str]:
    """Return the jobs with an open visit, and those that the plan in force had left out."""
    left_out = {job["id"] for job in before.instance.get("jobs", [])}
    return set(visits) | (left_out - set(before.plan.get("plan", {})))


def _engine_visit(visit: Visit) -> EngineVisit:
    half: Any = visit.half
    return EngineVisit(str(visit.job_id), str(visit.crew_id), visit.date, half, visit.half_days)


def _written(found: InstallPlan) -> Answer:
    return {**plan_to_document(found), "rule": found.rule, "rule_cost": found.rule_cost}


def _last_progress(found: InstallPlan) -> dict[str, Any]:
    return {
        "stage": "done",
        "seconds": round(found.seconds, 3),
        "cost": found.cost,
        "bound": found.bound,
    }


def _told(events: Iterable[Event], built: Built) -> list[Event]:
    """Return the events worth telling: not those about visits that stand."""
    settled = {str(pk) for pk in built.visits.settled_jobs}
    return [
        event for event in events if not (event.kind == "job_cancelled" and event.about in settled)
    ]


def _event(event: Event) -> dict[str, Any]:
    what = "crew" if event.kind == "crew_absent" else "job"
    return {"kind": event.kind, what: int(event.about), "text": str(event)}


def _changes(
    changes: Mapping[str, Change],
    visits: Mapping[str, Visit],
    after: Mapping[str, EngineVisit],
) -> list[dict[str, Any]]:
    return [
        {
            "visit": visits[job].pk,
            "job": int(job),
            "what": change.what,
            "cause": change.cause,
            "from": _place(_engine_visit(visits[job])),
            "to": _place(after.get(job)),
        }
        for job, change in changes.items()
    ]


def _place(visit: EngineVisit | None) -> dict[str, Any] | None:
    if visit is None:
        return None
    return {"crew": int(visit.crew), "date": visit.date.isoformat(), "half": visit.half}
