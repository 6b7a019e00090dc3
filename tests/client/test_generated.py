"""The schema is good enough for a generator that knows nothing of this service."""

from __future__ import annotations

from pathlib import Path

from tests.client.generating import PACKAGE, type_faults

HERE = Path(__file__).resolve().parent


def test_every_operation_has_a_function(client_package: Path) -> None:
    functions = list((client_package / PACKAGE / "api").glob("*/*.py"))
    names = {path.stem for path in functions if path.stem != "__init__"}
    assert len(names) > 200
    assert {"jobs_reserve_create", "surveys_lay_out_create", "calculate_screening"} <= names


def test_a_program_written_against_it_passes_a_strict_type_check() -> None:
    assert type_faults(HERE / "survey_to_kit.py") == ""


def test_the_type_check_sees_a_wrong_argument(client_package: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    wrong.write_text(
        "from tautline_client.models import PullShapeRequest\n"
        "PullShapeRequest(line=1, quantity='all of it')\n"
    )
    assert "incompatible type" in type_faults(wrong)
