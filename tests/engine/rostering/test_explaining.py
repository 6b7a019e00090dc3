"""Reasons of a plan, each held against the independent checker or a hand-made instance."""

from __future__ import annotations

import copy
from datetime import date

import pytest

from contractor.engine.rostering.check import check_plan, recompute_cost
from contractor.engine.rostering.document import Crew, Half, Instance
from contractor.engine.rostering.explaining import (
    earliest_start,
    explain,
    options_of,
    slack_halfdays,
    why_not,
    why_unplanned,
)
from contractor.engine.rostering.optimize import plan
from contractor.engine.rostering.plan_document import InstallPlan, Visit, plan_to_document
from contractor.engine.rostering.reading import read_instance
from contractor.engine.rostering.relief import crew_day_prices, reliefs
from tests.engine.rostering.small import Document, crew, day, instance, job, random_instance


def planned(given: Document) -> tuple[Instance, InstallPlan]:
    read = read_instance(given)
    return read, plan(read, rounds=200, seed=1)


def with_visit(answer: InstallPlan, visit: Visit) -> Document:
    """Return the plan document with one job's visit replaced."""
    document: Document = copy.deepcopy(plan_to_document(answer))
    entry = {"crew": visit.crew, "date": visit.date.isoformat(), "half": visit.half}
    document["plan"][visit.job] = {**entry, "halfdays": visit.halfdays}
    return document


@pytest.mark.parametrize("seed", range(4))
def test_alternatives_cost_what_the_checker_says(seed: int) -> None:
    given = random_instance(seed)
    read, answer = planned(given)
    for one in read.jobs:
        why = explain(read, answer.visits, one)
        for option in [o for o in why.alternatives if o.is_free]:
            changed = with_visit(answer, option.visit)
            cost = recompute_cost(given, changed)
            assert cost - answer.cost == option.cost - why.parts.total
            codes = {f.code for f in check_plan(given, {**changed, "cost": cost, "bound": 0})}
            assert codes <= {"wrong_gap", "proof_missing"}


@pytest.mark.parametrize("seed", range(4))
def test_no_free_option_is_cheaper_than_the_chosen_one(seed: int) -> None:
    """Else the proven optimum would not be one."""
    read, answer = planned(random_instance(seed))
    assert answer.proven
    for one in read.jobs:
        why = explain(read, answer.visits, one)
        free = [option.cost for option in options_of(read, answer.visits, one) if option.is_free]
        assert min(free, default=why.parts.total) >= why.parts.total


def test_why_not_names_hard_rules_first() -> None:
    read, answer = planned(instance([crew("C0")], [job("J0", skills=["confined"])]))
    found = why_not(read, answer.visits, read.jobs[0], read.crews[0], read.first_day, "am")
    assert [one.code for one in found.obstacles] == ["skill_missing"]
    assert (found.displaced, found.extra) == ((), None)


def test_why_not_prices_the_holder_that_would_move() -> None:
    """J1 wants J0's morning. J0 can go to the afternoon of the same day at no cost."""
    given = instance([crew("C0")], [job("J0"), job("J1")])
    read, answer = planned(given)
    first, second = sorted(answer.visits, key=lambda visit: visit.when)
    found = why_not(
        read,
        answer.visits,
        read.job_of[second.job],
        read.crews[0],
        first.date,
        first.half,
    )
    assert [one.job for one in found.displaced] == [first.job]
    assert found.displaced[0].to is not None
    assert found.extra == 0


def test_chain_ends_with_what_holds_the_job_back() -> None:
    late = job("J0", material_ready=day(1), permit_release=day(3), weekdays=[4])
    read, answer = planned(instance([crew("C0")], [late]))
    chain = earliest_start(read, answer.visits, read.jobs[0])
    assert [one.what for one in chain[-3:]] == [
        "material is there",
        "permit or engineer's release",
        "calendars, certificates and the homeowner",
    ]
    assert chain[-1].until.isoformat() == day(4)


def test_unplanned_job_is_explained_rule_by_rule() -> None:
    given = instance(
        [crew("C0", payload_kg=100), crew("C1", absences=[away(0, 18)])],
        [job("J0"), job("J1")],
    )
    read, answer = planned(given)
    assert answer.visits == ()
    found = why_unplanned(read, answer.visits, read.jobs[0])
    assert [one.code for one in found.crews["C0"]] == ["over_payload"]
    assert found.crews["C1"] == ()
    assert found.starts_by_rule == {"crew_absent": 30, "over_payload": 30}
    assert (found.legal, found.free, found.cheapest_free) == (0, 0, None)
    assert found.left_out.unscheduled == 1000


def away(first: int, last: int) -> Document:
    return {"first": day(first), "last": day(last), "half": None}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"permit_release": day(20)}, "permit or release 2 days earlier"),
        ({"material_ready": day(19)}, "material 1 days earlier"),
        ({"weekdays": [6]}, "the homeowner lets the crew in on Monday"),
        ({"blackout": [[day(0), day(18)]]}, "the homeowner is there"),
        ({"skills": ["confined"]}, "crew C0 holds confined"),
        ({"xy": [78.0, 0.0], "labour_h": 2.0}, "5 min more drive allowed"),
        ({"weight_kg": 1600}, "a vehicle for 100 kg more with crew C0"),
        ({"min_size": 3}, "1 more on crew C0"),
        ({"labour_h": 64.0}, "jobs of 1 more half-days allowed"),
    ],
)
def test_the_smallest_single_change_that_helps(changes: Document, words: str) -> None:
    read, answer = planned(instance([crew("C0")], [job("J0", **changes)]))
    assert answer.visits == ()
    found = reliefs(read, answer.visits, read.jobs[0])
    assert any(one.what.startswith(words) for one in found), [one.what for one in found]


def test_slack_is_later_at_no_more_cost() -> None:
    """Due Friday; one half-day of work from Monday morning may start up to Friday afternoon."""
    read, answer = planned(instance([crew("C0")], [job("J0")]))
    start = answer.visits[0]
    assert (start.date.isoformat(), start.half) == (day(0), "am")
    assert slack_halfdays(read, answer.visits, read.jobs[0]) == 9


def test_a_crew_day_is_worth_something_only_where_crews_are_short() -> None:
    """One crew, four jobs of a day each, all due on Monday: every day later costs."""
    jobs = [job(f"J{n}", labour_h=15.0, due=day(0), severity=4) for n in range(4)]
    short, _ = planned(instance([crew("C0")], jobs))
    prices = crew_day_prices(short)
    assert prices[0].week == "2026-W10"
    assert prices[0].most > 0
    idle, _ = planned(instance([crew("C0")], [job("J0")]))
    assert all(one.most == 0 for one in crew_day_prices(idle))


def test_reasons_as_a_document() -> None:
    import json

    from contractor.engine.rostering.explaining_document import (
        prices_document,
        reasons_document,
        why_not_document,
    )

    given = random_instance(2)
    read, answer = planned(given)
    for one in read.jobs:
        document = reasons_document(read, answer.visits, one)
        assert json.loads(json.dumps(document)) == document
        assert (document["visit"] is None) == (document["unplanned"] is not None)
        assert document["cost"]["total"] == sum(
            value for name, value in document["cost"].items() if name != "total"
        )
    start: tuple[Crew, date, Half] = (read.crews[0], read.first_day, "am")
    assert set(why_not_document(read, answer.visits, read.jobs[0], start)) == {
        *("is_legal", "obstacles", "displaced", "extra"),
    }
    assert prices_document(read)["weeks"]
