"""``manage.py roster FILE``: plan files, re-plans, one line and exit code 2 on bad input."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from contractor.engine.rostering.bench import main
from contractor.engine.rostering.check import check_plan
from tests.engine.rostering.small import random_instance


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


def test_bench_plans_a_folder_and_compares_with_the_rules(tmp_path: Path) -> None:
    written(tmp_path, [random_instance(n, crews=3, jobs=9) for n in range(3)], "several.json")
    written(tmp_path, {"schema": "svc-vrp/1"}, "other.json")
    rows, text = main(tmp_path, 5.0, None)
    assert [row["violations"] for row in rows] == [0, 0, 0]
    assert all(row["cost"] <= row["rule_cost"] for row in rows)  # type: ignore[operator]
    assert "3 of 3 proven" in text and "cost / best of eight rules" in text
    assert len(main(tmp_path, 5.0, 2)[0]) == 2
