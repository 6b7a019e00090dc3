"""``manage.py roster FILE``: plan files, re-plans, one line and exit code 2 on bad input."""

from __future__ import annotations

import io
import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from contractor.engine.rostering.bench import main
from contractor.engine.rostering.check import check_plan
from contractor.engine.rostering.events import Event
from contractor.engine.rostering.plan_document import Visit
from contractor.engine.rostering.reading import read_instance
from contractor.engine.rostering.replan_bench import busiest_three_days, hit_visits
from tests.engine.rostering.small import crew, day, instance, job, random_instance


def written(folder: Path, document: object, name: str = "install.json") -> Path:
    file = folder / name
    file.write_text(document if isinstance(document, str) else json.dumps(document))
    return file


def run(*args: object) -> str:
    out = io.StringIO()
    call_command("roster", *map(str, args), stdout=out)
    return out.getvalue()


def test_an_instance_becomes_a_plan_file_twice_the_same(tmp_path: Path) -> None:
    given = random_instance(4, crews=3, jobs=10)
    file, target = written(tmp_path, given), tmp_path / "plan.json"
    text = run(file, "--rounds", 50, "--seed", 7, "--json", target)
    first = target.read_bytes()
    plan = json.loads(first)
    assert check_plan(given, plan) == []
    assert set(plan) == {
        *("schema", "plan", "cost", "bound", "gap", "proven", "seconds", "seed", "engine")
    }
    assert f"cost {plan['cost']}" in text and "best of eight dispatch rules" in text
    run(file, "--rounds", 50, "--seed", 7, "--json", target)
    assert target.read_bytes() == first


def test_a_replan_lists_the_changes_with_their_causes(tmp_path: Path) -> None:
    file = written(tmp_path, random_instance(4, crews=3, jobs=10))
    published, target = tmp_path / "plan.json", tmp_path / "again.json"
    run(file, "--rounds", 50, "--json", published)
    visit = next(iter(json.loads(published.read_text())["plan"].values()))
    away = {"first": visit["date"], "last": visit["date"], "half": None}
    sick = {"kind": "crew_absent", "crew": visit["crew"], **away}
    events = written(tmp_path, [sick], "events.json")
    options = ("--published", published, "--events", events, "--rounds", 50, "--json", target)
    text = run(file, *options, "--mode", "fewest-moves")
    changes = json.loads(target.read_text())["changes"]
    assert changes
    assert all(one["what"] in {"moved", "crew", "both", "lost"} for one in changes.values())
    for name, one in changes.items():
        assert f"{name} {one['what']}: {one['cause']}" in text
    run(file, "--published", published, "--rounds", 50, "--json", target)
    assert json.loads(target.read_text())["changes"] == {}


def test_progress_is_said_while_it_runs(tmp_path: Path) -> None:
    err = io.StringIO()
    file = written(tmp_path, random_instance(4, crews=3, jobs=10))
    call_command("roster", str(file), "--rounds", "50", "--progress", stdout=err, stderr=err)
    *lines, _, _ = err.getvalue().splitlines()
    costs = [int(line.split("cost ")[1].split(",")[0]) for line in lines]
    bounds = [int(line.split("bound ")[1].split(" ")[0]) for line in lines]
    assert costs == sorted(costs, reverse=True)
    assert bounds == sorted(bounds)
    assert len(lines) >= 2 and bounds[-1] <= costs[-1]


@pytest.mark.parametrize(
    ("document", "options", "words"),
    [
        ("{", (), "This is not JSON"),
        ({"schema": "install-sched/1"}, (), "is missing"),
        (None, ("--events", "x"), "Give --published PLAN too."),
        (None, ("--seconds", "0"), "Give 1 to 86400."),
        (None, ("--seed", "-1"), "Give 0 to 2^31 - 1."),
        (None, ("--published", "nowhere.json"), "No such file"),
    ],
)
def test_bad_input_is_one_line_and_exit_code_2(
    tmp_path: Path, document: Any, options: tuple[str, ...], words: str
) -> None:
    file = written(tmp_path, random_instance(0) if document is None else document)
    with pytest.raises(CommandError) as refusal:
        run(file, *options)
    assert refusal.value.returncode == 2
    assert words in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_bad_now_is_refused(tmp_path: Path) -> None:
    file = written(tmp_path, random_instance(0))
    published = tmp_path / "plan.json"
    run(file, "--rounds", 5, "--json", published)
    with pytest.raises(CommandError, match="Write YYYY-MM-DD"):
        run(file, "--published", published, "--now", "tomorrow")


def test_the_busiest_three_days_hit_most_visits() -> None:
    """Two half-days on Monday, one on Thursday: Monday to Wednesday hits two, also the last."""
    given = read_instance(instance([crew("C0"), crew("C1")], [job(f"J{n}") for n in range(4)]))
    at = [
        ("J0", "C1", 0, "am"),
        ("J1", "C1", 0, "pm"),
        ("J2", "C1", 3, "am"),
        ("J3", "C0", 0, "am"),
    ]
    visits = [
        Visit(name, team, date.fromisoformat(day(when)), "pm" if half == "pm" else "am", 1)
        for name, team, when, half in at
    ]
    event = busiest_three_days(given, visits)
    assert event is not None
    assert str(event) == f"crew_absent: C1 {day(0)} to {day(2)}"
    assert [visit.job for visit in hit_visits(given, visits, event)] == ["J0", "J1"]
    long = Visit("J3", "C0", date.fromisoformat(day(4)), "pm", 2)  # Friday and, after it, Monday
    monday = Event("crew_absent", "C0", date.fromisoformat(day(7)), date.fromisoformat(day(9)))
    assert hit_visits(given, [long], monday) == [long]
    assert busiest_three_days(given, []) is None


def test_bench_plans_a_folder_and_compares_with_the_rules(tmp_path: Path) -> None:
    written(tmp_path, [random_instance(n, crews=3, jobs=9) for n in range(3)], "several.json")
    written(tmp_path, {"schema": "svc-vrp/1"}, "other.json")
    rows, text = main(tmp_path, 5.0, None)
    assert [row["violations"] for row in rows] == [0, 0, 0]
    assert all(row["cost"] <= row["rule_cost"] for row in rows)  # type: ignore[operator]
    assert "3 of 3 proven" in text and "cost / best of eight rules" in text
    for row in rows:
        again: Any = row["replans"]
        assert {one["event"] for one in again} == {"none", "crew lost"}
        assert all(one["violations"] == 0 for one in again)
        assert all(one["moved"] == 0 for one in again if one["event"] == "none")
        for one in again:
            assert one["lost"] <= one["fewest"] <= one["moved"] or one["event"] == "none"
        least = [one for one in again if one["mode"] == "fewest-moves"]
        assert all(one["is_fewest_proven"] and one["moved"] == one["fewest"] for one in least)
    assert len(main(tmp_path, 5.0, 2)[0]) == 2
