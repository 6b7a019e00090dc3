"""``manage.py layout FILE``: the same documents as the API, one line for bad input."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

SURVEYS = Path(__file__).parents[3] / "fixtures" / "surveys"


def run(*arguments: str) -> str:
    out = io.StringIO()
    call_command("layout", *arguments, stdout=out)
    return out.getvalue()


def answer_of(tmp_path: Path, *arguments: str) -> dict[str, Any]:
    answer = tmp_path / "answer.json"
    run(*arguments, "--json", str(answer))
    return dict(json.loads(answer.read_text("utf-8")))


def test_answer_and_summary(tmp_path: Path) -> None:
    survey = str(SURVEYS / "pipe-that-stays.json")
    answer = answer_of(tmp_path, survey, "--no-screening")
    assert answer["schema"] == "brace-layout/1"
    assert [brace["furring_layers"] for brace in answer["braces"]] == [0, 0, 0, 2, 2]
    text = run(survey, "--no-screening")
    assert "B3   12'-11 1/2\"  joist 10 right  beam 7'-8 3/4\" measured" in text
    assert "Stands on 2 layers of furring to clear water pipe." in text


def test_same_bytes_every_time(tmp_path: Path) -> None:
    survey = str(SURVEYS / "window.json")
    assert answer_of(tmp_path, survey) == answer_of(tmp_path, survey)


def test_metric_answer(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, str(SURVEYS / "metric.json"), "--units", "si")
    assert {brace["at"]["unit"] for brace in answer["braces"]} == {"mm"}
    assert any("nearest 1/64 in" in caution for caution in answer["cautions"])


def test_no_answer_is_an_answer() -> None:
    text = run(str(SURVEYS / "no-answer.json"))
    assert "cannot be bridged; the largest gap is 9'-0\"" in text
    assert "Would help: Take out or move boiler flue" in text


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{", "This is not JSON"),
        ("[" * 100_000, "This is not JSON"),
        ("[]", "/: This must be an object."),
        ('{"schema": "wall-survey/1", "a\\nb": 1}', "There is no member"),
        (
            '{"schema": "wall-survey/1", "wall": {"length": NaN}, "framing": {}, "heights": []}',
            "/wall/length: A bare number has no unit.",
        ),
    ],
)
def test_bad_input_is_one_line(tmp_path: Path, text: str, expected: str) -> None:
    survey = tmp_path / "survey.json"
    survey.write_text(text, "utf-8")
    with pytest.raises(CommandError) as caught:
        run(str(survey))
    assert caught.value.returncode == 2
    assert expected in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_files_that_cannot_be_read_or_written(tmp_path: Path) -> None:
    with pytest.raises(CommandError) as caught:
        run(str(tmp_path / "none.json"))
    assert caught.value.returncode == 2
    with pytest.raises(CommandError) as caught:
        run(str(SURVEYS / "window.json"), "--json", str(tmp_path / "no" / "answer.json"))
    assert caught.value.returncode == 2
