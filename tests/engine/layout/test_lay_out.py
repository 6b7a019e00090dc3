"""Layouts against exhaustive search, and what a site person expects of single walls."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.errors import InputError
from contractor.engine.layout import Layout, lay_out
from contractor.engine.layout.answer import show_length
from contractor.engine.layout.bench import bench_layout, long_wall, random_survey, rank_of
from contractor.engine.layout.check import check_layout
from contractor.engine.layout.document import layout_document
from contractor.engine.layout.exhaustive import best_row
from contractor.engine.survey_reader import read_survey
from tests.engine.layout.walls import feature, wall

SURVEYS = sorted((Path(__file__).parents[3] / "fixtures" / "surveys").glob("*.json"))
INCH = 64


def laid_out(document: dict[str, Any]) -> Layout:
    survey = read_survey(document)
    layout = lay_out(survey)
    assert check_layout(document, json_of(layout_document(layout, survey))) == []
    return layout


def json_of(document: dict[str, Any]) -> dict[str, Any]:
    return dict(json.loads(json.dumps(document)))


def inches(layout: Layout) -> list[float]:
    return [brace.at_ticks / INCH for brace in layout.braces]


@settings(max_examples=400, deadline=None, derandomize=True)
@given(st.integers(0, 2**48))
def test_equals_exhaustive_search_on_small_walls(seed: int) -> None:
    document = random_survey(random.Random(seed))
    survey = read_survey(document)
    layout = lay_out(survey)
    assert rank_of(layout, survey) == best_row(survey)
    assert check_layout(document, json_of(layout_document(layout, survey))) == []


@pytest.mark.parametrize("path", SURVEYS, ids=lambda path: path.stem)
@pytest.mark.parametrize("system", ["us", "si"])
def test_worked_surveys_pass_the_checker(path: Path, system: Any) -> None:
    document = json.loads(path.read_text("utf-8"))
    survey = read_survey(document)
    layout = lay_out(survey)
    answer = json_of(layout_document(layout, survey, system))
    assert check_layout(document, answer) == []
    assert (layout.no_answer is not None) == (path.stem == "no-answer")


def test_even_spacing_on_parallel_framing() -> None:
    """22 ft = 264 in: 36 + 3 x 64 + 36; the smallest largest spacing pulls the ends to 42."""
    layout = laid_out(wall("22 ft", joists="parallel"))
    assert inches(layout) == [42, 102, 162, 222]
    assert layout.largest_spacing_ticks == 60 * INCH
    assert {(brace.joist, brace.side) for brace in layout.braces} == {(None, None)}


def test_joists_at_19_2_carry_57_6_but_not_76_8() -> None:
    """Three bays of 19.2 in are 57.6 in, four are 76.8 in and above the 72 in rule."""
    layout = laid_out(wall("28 ft", {"first": "19.2 in", "spacing": "19.2 in"}))
    assert layout.largest_spacing_ticks is not None
    assert layout.largest_spacing_ticks <= 72 * INCH
    bays = {round((b.joist or 0) - (a.joist or 0)) for a, b in
            zip(layout.braces, layout.braces[1:], strict=False)}  # fmt: skip
    assert max(bays) <= 3


@pytest.mark.parametrize("spacing", ["12 in", "16 in", "19.2 in", "24 in"])
def test_usual_joist_spacings(spacing: str) -> None:
    layout = laid_out(wall("30 ft", {"first": "11 1/2 in", "spacing": spacing}))
    assert layout.no_answer is None


def test_damaged_wall_closes_up() -> None:
    assert laid_out(wall("20 ft", damage="bad")).spacing_limit_ticks == 36 * INCH


def test_short_walls() -> None:
    assert laid_out(wall("23 in")).braces == ()
    one = laid_out(wall("5 ft"))
    assert inches(one) == [26]
    assert one.spacings_ticks == ()
    assert one.largest_spacing_ticks is None


def test_a_brace_meets_the_side_of_its_joist() -> None:
    layout = laid_out(wall())
    for brace in layout.braces:
        assert brace.joist is not None
        center = 8 * INCH + (brace.joist - 1) * 16 * INCH
        assert brace.at_ticks - center == (2 * INCH if brace.side == "right" else -2 * INCH)


def test_fixture_that_stays_and_one_that_moves() -> None:
    staying = feature("fixture", "soil stack", "40 in", "44 in", removable=False)
    layout = laid_out(wall("8 ft", features=[staying], joists="parallel"))
    assert all(not 38.5 <= at <= 45.5 for at in inches(layout))
    blocking = feature("fixture", "cabinet", "2 ft", "6 ft", removable=True)
    rules = {"corner_min": "30 in"}
    layout = laid_out(wall("8 ft", features=[blocking], rules=rules, joists="parallel"))
    assert len(layout.braces) == 2
    assert [brace.specials for brace in layout.braces] == [("cabinet",)] * len(layout.braces)
    assert "cabinet must be moved for it." in [str(r) for r in layout.braces[0].because]


def test_line_that_stays_means_furring() -> None:
    """A pipe standing 1-5/8 in off needs two layers of 1-1/2 in; one that stands 1-1/2 in, one."""
    for stand_off, layers in (("1 5/8 in", 2), ("1 1/2 in", 1), ("1/2 in", 1), ("0 in", 0)):
        pipe = feature("line", "water pipe", "0 in", "24 ft", stand_off=stand_off)
        layout = laid_out(wall(features=[pipe]))
        assert {brace.furring_layers for brace in layout.braces} == {layers}
        assert all(brace.specials == ("water pipe",) for brace in layout.braces)


def test_line_taken_off_needs_no_furring() -> None:
    cable = feature("line", "cable", "0 in", "24 ft", stand_off="2 in", removable=True)
    layout = laid_out(wall(features=[cable]))
    assert {(b.furring_layers, b.specials) for b in layout.braces} == {(0, ("cable",))}


def test_fewer_specials_win_over_even_spacing() -> None:
    cabinet = feature("fixture", "cabinet", "100 in", "110 in", removable=True)
    without = laid_out(wall("22 ft", joists="parallel"))
    layout = laid_out(wall("22 ft", features=[cabinet], joists="parallel"))
    assert 102 in inches(without)
    assert layout.special_count == 0
    assert len(layout.braces) == len(without.braces)
    assert any("Spares cabinet." in map(str, brace.because) for brace in layout.braces)


def test_beam_length_follows_the_floor_and_rounds_down() -> None:
    document = wall("24 ft")
    document["heights"] = [
        {"at": "0 in", "slab_to_subfloor": "94 in"},
        {"at": "24 ft", "slab_to_subfloor": "95 in"},
    ]
    for brace in laid_out(document).braces:
        exact = 94 + brace.at_ticks / (288 * INCH) - 0.5
        assert 0 <= exact - brace.beam_length_ticks / INCH < 1 / 16
        assert brace.beam_length_ticks % 4 == 0
        assert brace.basis == "provisional"


def test_parallel_beam_ends_under_the_backer() -> None:
    """94 - 9-1/4 (2x10 dressed, PS 20) - 1-1/2 backer - 1/2 gap = 82-3/4 in."""
    layout = laid_out(wall(joists="parallel"))
    assert {brace.beam_length_ticks for brace in layout.braces} == {82 * INCH + 48}


def test_measured_where_a_height_was_taken_at_the_brace() -> None:
    document = wall("5 ft")
    document["heights"].append({"at": "26 1/2 in", "slab_to_subfloor": "7'-10\""})
    assert [brace.basis for brace in laid_out(document).braces] == ["measured"]


def test_position_outside_the_heights_is_refused() -> None:
    document = wall("24 ft")
    document["heights"][1]["at"] = "21 ft"
    document["framing"]["centers"] = ["42 in", "102 in", "162 in", "198 in", "258 in"]
    with pytest.raises(InputError) as caught:
        lay_out(read_survey(document))
    assert (caught.value.code, caught.value.pointer) == ("outside_heights", "/heights")


def test_no_room_for_a_beam_is_refused() -> None:
    document = wall("8 ft", joists="parallel")
    document["framing"]["depth"] = "3 ft"
    for row in document["heights"]:
        row["slab_to_subfloor"] = "3 ft 1 in"
    with pytest.raises(InputError) as caught:
        lay_out(read_survey(document))
    assert caught.value.code == "no_room_for_a_beam"


def test_screening_limit_is_the_lower_one() -> None:
    survey = read_survey(wall("24 ft"))
    plain, closer = lay_out(survey), lay_out(survey, spacing_limit_ticks=40 * INCH)
    assert (plain.spacing_limit_from, closer.spacing_limit_from) == ("rule", "screening")
    assert (closer.largest_spacing_ticks or 0) <= 40 * INCH < (plain.largest_spacing_ticks or 0)
    assert lay_out(survey, spacing_limit_ticks=90 * INCH) == plain
    ruled = read_survey(wall("24 ft", rules={"screened_spacing_max": "50 in"}))
    assert lay_out(ruled).spacing_limit_ticks == 50 * INCH
    assert lay_out(ruled, spacing_limit_ticks=40 * INCH).spacing_limit_ticks == 40 * INCH


DOOR = feature("opening", "garden door", "7 ft", "10 ft", removable=False)
FLUE = feature("fixture", "flue", "10 ft 6 in", "11 ft 4 in", removable=False)
WINDOW = feature("opening", "window", "11 ft 8 in", "14 ft 8 in", removable=False)
JOISTS = {"first": "7 in", "spacing": "16 in"}


def test_no_answer_says_where_and_what_would_help() -> None:
    document = wall("22 ft", JOISTS, [DOOR, FLUE, WINDOW])
    layout = laid_out(document)
    report = layout.no_answer
    assert report is not None
    assert layout.braces == ()
    helps = [str(remark) for remark in report.would_help]
    assert "Take out or move flue: 5 braces then fit." in helps
    assert any(text.startswith("Allow a spacing of ") for text in helps)
    assert any(text.startswith("Use the parallel framing detail") for text in helps)
    assert report.from_ticks < 84 * INCH < 176 * INCH < report.to_ticks
    assert report.largest_gap_ticks == report.to_ticks - report.from_ticks


def test_each_help_is_enough_on_its_own() -> None:
    """Apply the changes that the report names to the survey itself and lay out once more."""
    document = wall("22 ft", JOISTS, [DOOR, FLUE, WINDOW])
    report = laid_out(document).no_answer
    assert report is not None
    allow = next(r for r in report.would_help if str(r).startswith("Allow"))
    most = next(part for part in allow.parts if isinstance(part, int))
    enough = {"spacing_max": {"value": most / INCH, "unit": "in"}}
    less = {"spacing_max": {"value": (most - 1) / INCH, "unit": "in"}}
    assert laid_out(document | {"rules": enough}).no_answer is None
    assert laid_out(document | {"rules": less}).no_answer is not None
    assert laid_out(wall("22 ft", JOISTS, [DOOR, WINDOW])).no_answer is None


def test_no_joist_near_a_corner() -> None:
    layout = laid_out(wall("24 ft", ["60 in", "100 in", "150 in", "200 in", "250 in"]))
    report = layout.no_answer
    assert report is not None
    assert report.from_ticks == 0
    texts = [str(remark) for remark in report.would_help]
    assert any(text.startswith("Let the outer braces stand up to 4'-10\"") for text in texts)


def test_braces_too_close_together() -> None:
    """Places at 16 and 34 in only: 18 in apart, less than the rule of 24 in."""
    rules = {"corner_min": "14 in", "corner_max": "20 in"}
    layout = laid_out(wall("50 in", ["14 in", "36 in"], rules=rules))
    assert layout.no_answer is not None
    assert [str(remark) for remark in layout.no_answer.would_help] == [
        "Let the outer braces stand up to 2'-10\" from a corner, 1'-2\" more than now: "
        "one brace then fits.",
        "Let two braces stand as close as 1'-6\": 2 braces then fit.",
    ]


def test_same_answer_every_time() -> None:
    survey = long_wall("parallel", 60)
    assert lay_out(survey) == lay_out(survey)


def test_bench_reports_equality() -> None:
    ticking = iter(range(1000))
    figures = bench_layout(lambda: float(next(ticking)), walls=20, seed=7)
    assert figures["equal_to_exhaustive"] == figures["walls"] == 20
    assert figures["wall_200ft_parallel_ms"] == 1000.0


@pytest.mark.parametrize(
    ("ticks", "system", "text"),
    [
        (48, "us", "3/4 in"),
        (-48, "us", "-3/4 in"),
        (0, "us", "0 in"),
        (640, "us", "10 in"),
        (664, "us", "10 3/8 in"),
        (768, "us", "1'-0\""),
        (64, "si", "25.4 mm"),
    ],
)
def test_lengths_in_sentences(ticks: int, system: Any, text: str) -> None:
    assert show_length(ticks, system) == text
