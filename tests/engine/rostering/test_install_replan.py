"""Re-planning: nothing happens without an event; what happens has a cause; promises are kept."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest

from contractor.engine.errors import InputError
from contractor.engine.rostering import fewest_moves
from contractor.engine.rostering.check import check_plan
from contractor.engine.rostering.document import Instance
from contractor.engine.rostering.events import read_events
from contractor.engine.rostering.optimize import plan
from contractor.engine.rostering.plan_document import Change, InstallPlan, Visit
from contractor.engine.rostering.reading import read_instance
from contractor.engine.rostering.replan import MODES, Mode, Replan, replan
from tests.engine.rostering.small import Document, crew, day, instance, job, random_instance


def published(given: Document) -> tuple[Instance, InstallPlan]:
    read = read_instance(given)
    return read, plan(read, rounds=200, seed=1)


def again(given: Document, *events: Document, **options: Any) -> tuple[InstallPlan, Replan]:
    read, before = published(given)
    happened = read_events(list(events), read)
    return before, replan(read, before.visits, happened, rounds=100, seed=1, **options)


def changes(after: Replan) -> Mapping[str, Change]:
    assert after.plan.changes is not None
    return after.plan.changes


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("seed", range(3))
def test_no_event_no_move(seed: int, mode: Mode) -> None:
    before, after = again(random_instance(seed, crews=3, jobs=12), mode=mode)
    assert after.moves == 0
    assert after.plan.visits == before.visits


def sick(name: str, first: int = 0, last: int = 2) -> Document:
    return {"kind": "crew_absent", "crew": name, "first": day(first), "last": day(last)}


@pytest.mark.parametrize("seed", range(4))
def test_crew_lost_for_three_days_keeps_promises(seed: int) -> None:
    """Legal options exist here for every job on a later day, so nobody is lost."""
    given = random_instance(seed, crews=3, jobs=9)
    before, after = again(given, sick("C0"))
    lost = [job for job, change in changes(after).items() if change.what == "lost"]
    still = {visit.job for visit in after.plan.visits}
    assert {visit.job for visit in before.visits} - still == set(lost)
    assert after.moves >= after.fewest
    for name, change in changes(after).items():
        assert change.cause, name


@pytest.mark.parametrize("seed", range(4))
def test_fewest_moves_is_the_proven_least(seed: int) -> None:
    given = random_instance(seed, crews=3, jobs=9)
    _, fewest = again(given, sick("C0"), mode="fewest-moves")
    _, cheapest = again(given, sick("C0"), mode="penalty")
    assert fewest.is_fewest_proven
    assert fewest.moves == fewest.fewest <= cheapest.moves


@pytest.mark.parametrize("is_searched", [True, False])
def test_a_visit_without_a_free_place_moves_another_and_is_not_lost(
    is_searched: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """J0 needs C0, whose Tuesday J1 holds; J1 can go to C1. Found before the whole search."""
    if not is_searched:
        monkeypatch.setattr(fewest_moves, "optimize", lambda *arguments: None)
    crews = [crew("C0"), crew("C1", skills={})]
    jobs = [job("J0", labour_h=15.0, skills=["lead_safe"]), job("J1", labour_h=15.0)]
    read = read_instance(instance(crews, jobs, last_day=day(1)))
    before = [
        Visit(name, "C0", date.fromisoformat(day(n)), "am", 2)
        for n, name in enumerate(("J0", "J1"))
    ]
    events = read_events([sick("C0", 0, 0)], read)
    after = replan(read, before, events, mode="fewest-moves", rounds=20, seed=1)
    assert set(changes(after)) == {"J0", "J1"}
    assert after.plan.visit_of["J1"].crew == "C1"
    assert changes(after)["J1"].cause == "displaced by J0"
    assert (after.moves, after.fewest) == (2, 2)


def test_the_cause_is_the_event_or_who_took_the_place() -> None:
    given = instance([crew("C0"), crew("C1")], [job("J0"), job("J1")])
    _, before = published(given)
    gone = before.visit_of["J0"].crew
    _, after = again(given, sick(gone, 0, 18))
    for change in changes(after).values():
        assert change.cause.startswith("crew_absent") or change.cause.startswith("displaced by")


def test_started_visits_stay() -> None:
    given = random_instance(1, crews=2, jobs=8)
    read, before = published(given)
    now = read.today.replace(day=read.today.day + 2)
    _, after = again(given, sick("C0", 2, 10), now=now)
    started = [visit for visit in before.visits if visit.date < now]
    assert started
    kept = after.plan.visit_of
    assert all((kept[v.job].crew, kept[v.job].date) == (v.crew, v.date) for v in started)


def test_cancelled_job_leaves_the_plan_and_moves_nobody() -> None:
    given = random_instance(2, crews=3, jobs=9)
    _, before = published(given)
    name = before.visits[0].job
    _, after = again(given, {"kind": "job_cancelled", "job": name}, mode="fewest-moves")
    assert name not in after.plan.visit_of
    assert after.moves == 0


def test_late_material_moves_the_job_behind_its_date() -> None:
    given = instance([crew("C0"), crew("C1")], [job("J0"), job("J1")])
    _, after = again(given, {"kind": "material_late", "job": "J0", "date": day(7)})
    assert after.plan.visit_of["J0"].date.isoformat() >= day(7)
    assert changes(after)["J0"].cause.startswith("material_late: J0")


def test_replan_passes_the_checker() -> None:
    given = random_instance(5, crews=3, jobs=10)
    _, before = published(given)
    _, after = again(given, sick("C1"))
    confirmed = {v.job: v for v in before.visits}
    for one in given["jobs"]:
        told = confirmed.get(one["id"])
        if told is not None:
            one["confirmed"] = {
                "crew": told.crew,
                "date": told.date.isoformat(),
                "half": told.half,
            }
    given["crews"][1]["absences"].append({"first": day(0), "last": day(2), "half": None})
    from contractor.engine.rostering.plan_document import plan_to_document

    assert check_plan(given, plan_to_document(after.plan)) == []


@pytest.mark.parametrize(
    ("event", "code"),
    [
        ({"kind": "crew_absent", "crew": "C9", "first": day(0), "last": day(1)}, "unknown_crew"),
        ({"kind": "job_cancelled", "job": "J9"}, "unknown_job"),
        ({"kind": "earthquake"}, "unknown_choice"),
    ],
)
def test_wrong_events_are_refused(event: Document, code: str) -> None:
    read = read_instance(random_instance(0))
    with pytest.raises(InputError) as refusal:
        read_events([event], read)
    assert refusal.value.pointer.startswith("/0")
    if event["kind"] != "earthquake":
        assert refusal.value.code == code
