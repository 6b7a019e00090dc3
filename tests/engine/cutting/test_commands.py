"""The cut command and the benchmark: exit codes, one line for bad input, a table with faults."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from contractor.engine.cutting import bench, check
from tests.engine.cutting.instances import Document, instance

GOOD = instance([(100, 10, None)], [(40, 3), (25, 2)], kerf=1)


def write(tmp_path: Path, document: Document) -> Path:
    path = tmp_path / "instance.json"
    path.write_text(json.dumps(document))
    return path


def test_cut_writes_a_plan_that_the_checker_accepts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "plan.json"
    call_command("cut", write(tmp_path, GOOD), "--seconds", "5", "--json", out)
    plan = json.loads(out.read_text())
    assert check.check_plan(GOOD, plan) == []
    assert (plan["cost"], plan["proven"]) == (20, True)
    assert capsys.readouterr().out.startswith("cost 20, proven least; 2 bars")


def test_cut_exits_3_when_the_supply_falls_short(tmp_path: Path) -> None:
    short = instance([(100, 10, 1)], [(40, 3)])
    out = tmp_path / "plan.json"
    with pytest.raises(CommandError) as caught:
        call_command("cut", write(tmp_path, short), "--json", out)
    assert caught.value.returncode == 3
    assert json.loads(out.read_text())["unmet"] == [["i0", 1]]


@pytest.mark.parametrize(
    ("text", "word"),
    [("{", "is not JSON"), ('{"schema": "cut-stock/9"}', "/schema"), (None, "cannot be read")],
)
def test_cut_exits_2_with_one_line_on_bad_input(
    tmp_path: Path, text: str | None, word: str
) -> None:
    path = tmp_path / "bad.json"
    if text is not None:
        path.write_text(text)
    with pytest.raises(CommandError, match=word) as caught:
        call_command("cut", path)
    assert caught.value.returncode == 2
    assert "\n" not in str(caught.value)


def test_the_benchmark_reports_proof_and_gaps(tmp_path: Path) -> None:
    known = {**GOOD, "name": "known", "optimum": 20}
    files = {"schema": "cut-stock-set/1", "class": "x", "source": "", "instances": [known, GOOD]}
    (tmp_path / "set.json").write_text(json.dumps(files))
    rows, text = bench.main(tmp_path, 5.0, None)
    assert [(row["proven"], row["cost"], row["faults"]) for row in rows] == [(True, 20, ())] * 2
    assert text.splitlines()[1].split()[:4] == ["set", "2", "2", "0.000"]


def test_the_benchmark_names_a_bound_above_the_known_optimum(tmp_path: Path) -> None:
    wrong = {**GOOD, "optimum": 10}
    (tmp_path / "one.json").write_text(json.dumps(wrong))
    rows, text = bench.main(tmp_path, 5.0, 1)
    assert rows[0]["faults"] == ("bound_above_known_optimum",)
    assert "fault: one test: bound_above_known_optimum" in text
