"""``manage.py route FILE``: plan files, one line and exit code 2 on bad input, 3 without a plan."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from contractor.engine.rostering.routing_bench import main
from contractor.engine.rostering.routing_check import check_routes
from contractor.engine.rostering.routing_visits_check import check_visits
from tests.engine.rostering.test_routing import made_up
from tests.engine.rostering.test_routing_visits import PROBLEM


def written(folder: Path, document: object, name: str = "vrp_one.json") -> Path:
    file = folder / name
    file.write_text(document if isinstance(document, str) else json.dumps(document))
    return file


def run(*args: object) -> str:
    out = io.StringIO()
    call_command("route", *map(str, args), stdout=out)
    return out.getvalue()


def test_a_route_file_becomes_a_plan_file(tmp_path: Path) -> None:
    document = made_up(1, 12) | {"bks": {"cost": 400}}
    target = tmp_path / "plan.json"
    text = run(written(tmp_path, document), "--iterations", 60, "--seed", 3, "--json", target)
    plan = json.loads(target.read_text())
    assert check_routes(document, plan) == []
    assert plan["seed"] == 3 and plan["engine"].startswith("pyvrp ")
    assert "best known 400" in text and f"cost {plan['cost']:g}" in text


def test_a_visit_file_becomes_a_visit_plan(tmp_path: Path) -> None:
    target = tmp_path / "plan.json"
    text = run(written(tmp_path, PROBLEM), "--iterations", 60, "--json", target)
    assert check_visits(PROBLEM, json.loads(target.read_text())) == []
    assert text.startswith("2 visits planned, 1 missed, cost 199")
    assert "missed vc: travel and work do not fit" in text


@pytest.mark.parametrize(
    ("document", "args", "words"),
    [
        ("{", [], "not JSON"),
        ("[" * 100_000, [], "not JSON"),
        ({}, [], "/schema"),
        (made_up(1, 3) | {"metric": "miles"}, [], "/metric"),
        (made_up(1, 3) | {"nodes": 3}, [], "/nodes"),
        (PROBLEM | {"visits": []}, [], "/visits"),
        (made_up(1, 3), ["--seconds", "-1"], "/seconds"),
        (made_up(1, 3), ["--seconds", "nan"], "/seconds"),
        (made_up(1, 3), ["--iterations", "0"], "/iterations"),
        (made_up(1, 3), ["--seed", "-1"], "--seed"),
    ],
)
def test_bad_input_is_one_line_and_exit_code_2(
    tmp_path: Path, document: Any, args: list[str], words: str
) -> None:
    with pytest.raises(CommandError) as refused:
        run(written(tmp_path, document), *args)
    assert refused.value.returncode == 2
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_files_that_cannot_be_read_or_written(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="No such file") as refused:
        run(tmp_path / "none.json")
    assert refused.value.returncode == 2
    file = written(tmp_path, made_up(1, 3))
    with pytest.raises(CommandError, match="can be written") as refused:
        run(file, "--iterations", 5, "--json", tmp_path / "no" / "plan.json")
    assert refused.value.returncode == 2


def test_an_instance_without_a_plan_is_exit_code_3(tmp_path: Path) -> None:
    document = made_up(17, 6)
    document["fleet"] = [{"count": 1, "capacity": 10, "start": 0, "end": 0}]
    with pytest.raises(CommandError, match="no plan that keeps every rule") as refused:
        run(written(tmp_path, document), "--iterations", 20)
    assert refused.value.returncode == 3


def test_the_bench_compares_with_pyvrp_alone(tmp_path: Path) -> None:
    written(tmp_path, made_up(1, 10) | {"bks": {"cost": 300}}, "vrp_a.json")
    written(tmp_path, made_up(2, 10), "vrp_b.json")
    rows, text = main(tmp_path, seconds=0.05, limit=2)
    assert [row["instance"] for row in rows] == ["made up 1", "made up 2"]
    assert [row["adapter_minus_direct"] for row in rows] == [0, 0]
    assert [row["violations"] for row in rows] == [0, 0]
    assert rows[1]["gap"] is None
    assert "mean gap" in text
