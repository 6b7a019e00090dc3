"""Framing plans and movement charts read back; the DXF opened by ezdxf."""

from __future__ import annotations

import io
import sys
from datetime import date

import pytest

from contractor.engine.drawing import (
    elevation_dxf,
    framing_plan_svg,
    movement_charts,
    movement_svg,
)
from contractor.engine.errors import InputError
from contractor.engine.layout import lay_out
from contractor.engine.materials import Hardware
from contractor.engine.movement import judge_series
from contractor.engine.survey_reader import read_survey
from tests.engine.drawing.reading import SVG, dimensions, parse, ticks_of
from tests.engine.drawing.test_elevation import BUSY, overlaps, text_boxes, wall
from tests.engine.materials.walls import parallel, survey
from tests.engine.movement.test_document import document
from tests.engine.movement.test_verdict import MOVING, RESTING, series


@pytest.mark.parametrize("canvas", ["a4", "phone"])
@pytest.mark.parametrize("length", ["24 ft", "60 ft"])
def test_the_framing_plan(canvas: str, length: str) -> None:
    read, layout = wall(length, framing=parallel())
    root = parse(framing_plan_svg(read, layout, canvas=canvas))  # type: ignore[arg-type]
    assert sum(ticks_of(e.text or "") for e in dimensions(root, "spacing")) == (
        read.wall.length_ticks
    )
    joists = [ticks_of(e.text or "") for e in dimensions(root, "joist")]
    assert sum(joists) == 96 * 64
    blocks = [e.attrib["data-block"] for e in root.iter(SVG + "text") if "data-block" in e.attrib]
    assert blocks == [str(int(13.75 * 64))] + [str(int(14.5 * 64))] * 5
    (nails,) = [e for e in root.iter(SVG + "text") if "data-nails" in e.attrib]
    assert nails.attrib["data-nails"] == "72"
    assert f"{72 * len(layout.braces)} on this wall" in (nails.text or "")
    assert overlaps(root) == []
    width = float(root.attrib["width"])
    assert all(box[0] >= 0 and box[2] <= width for _, box in text_boxes(root))


def test_blocks_are_staggered_and_to_scale() -> None:
    read, layout = wall(framing=parallel())
    root = parse(framing_plan_svg(read, layout))
    per_tick = float(root.attrib["data-per-tick"])
    (first, *_) = [e for e in root.iter(SVG + "g") if e.attrib.get("class") == "backer-at"]
    blocks = [e for e in first.iter(SVG + "rect") if "data-cut" in e.attrib]
    middles = [float(b.attrib["x"]) + float(b.attrib["width"]) / 2 for b in blocks]
    assert middles[0] > middles[1] < middles[2]
    assert middles[0] - middles[1] == pytest.approx(2 * 64 * per_tick, abs=0.03)
    assert float(blocks[1].attrib["height"]) / per_tick == pytest.approx(14.5 * 64, abs=3)


def test_a_wall_with_joists_into_it_has_no_framing_plan() -> None:
    read, layout = wall()
    with pytest.raises(InputError) as caught:
        framing_plan_svg(read, layout)
    assert caught.value.code == "no_framing_plan"


def test_the_plan_says_what_was_not_measured() -> None:
    read, layout = wall(framing=parallel() | {"centers": None})
    words = framing_plan_svg(read, layout, Hardware(fastening="screws"))
    assert "Joist centres not measured: drawn at 1'-4\"" in words.replace("&quot;", '"')
    assert "Structural screws, per backer" in words


@pytest.mark.parametrize("canvas", ["a4", "phone"])
@pytest.mark.parametrize("values", [MOVING, RESTING, (*MOVING[:3], 1.9, *MOVING[4:])])
def test_the_chart_shows_every_reading_and_the_verdict(
    canvas: str, values: tuple[float, ...]
) -> None:
    found = judge_series(series(values))
    svg = movement_svg(found, due=date(2026, 9, 1), canvas=canvas)  # type: ignore[arg-type]
    root = parse(svg)
    dots = [e for e in root.iter(SVG + "circle") if "data-value" in e.attrib]
    assert [float(e.attrib["data-value"]) for e in dots] == pytest.approx(values)
    assert root.attrib["data-verdict"] == found.verdict
    words = [e.text for e in root.iter(SVG + "text")]
    assert found.verdict.capitalize() in words
    assert overlaps(root) == []
    (line,) = [e for e in root.iter(SVG + "path") if "data-slope" in e.attrib]
    assert found.fit is not None
    assert float(line.attrib["data-slope"]) == pytest.approx(found.fit.slope, abs=1e-8)


def test_dots_stand_in_proportion() -> None:
    root = parse(movement_svg(judge_series(series(MOVING))))
    dots = [e for e in root.iter(SVG + "circle") if "data-value" in e.attrib]
    x = [float(e.attrib["cx"]) for e in dots]
    y = [float(e.attrib["cy"]) for e in dots]
    assert (x[1] - x[0]) / (x[6] - x[0]) == pytest.approx(91 / 547, abs=1e-3)
    assert (y[0] - y[2]) / (y[0] - y[6]) == pytest.approx(0.047 / 0.172, abs=1e-3)


def test_one_reading_makes_a_chart() -> None:
    found = judge_series(series(MOVING[:1], (0,)))
    root = parse(movement_svg(found))
    assert root.attrib["data-verdict"] == "too few readings"
    assert not [e for e in root.iter(SVG + "path") if "data-slope" in e.attrib]


def test_a_chart_for_each_place_of_a_document() -> None:
    posted = document()
    posted["readings"].append(
        {"on": "2025-01-06", "station": "9 ft", "height": "4 ft", "inward": "1 in"}
    )
    charts = movement_charts(posted, canvas="phone")
    assert [parse(chart).attrib["data-verdict"] for chart in charts] == [
        "moving in",
        "too few readings",
    ]


def test_the_dxf_is_full_size_in_inches() -> None:
    ezdxf = pytest.importorskip("ezdxf")
    read, layout = wall(**BUSY)
    text = elevation_dxf(read, layout)
    drawing = ezdxf.read(io.StringIO(text))
    assert drawing.audit().errors == []
    beams = drawing.modelspace().query('LWPOLYLINE[layer=="BRACES"]')
    assert len(beams) == len(layout.braces)
    for polyline, brace in zip(beams, layout.braces, strict=True):
        points = list(polyline.get_points("xy"))
        assert sum(p[0] for p in points) / 4 == pytest.approx(brace.at_ticks / 64)
        assert max(p[1] for p in points) == pytest.approx(brace.beam_length_ticks / 64)
    words = {entity.dxf.text for entity in drawing.modelspace().query("TEXT")}
    assert {"B1", "window"} <= words
    assert text == elevation_dxf(read, layout)


def test_the_dxf_without_its_library_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf.filemanagement", None)
    read = read_survey(survey())
    with pytest.raises(InputError) as caught:
        elevation_dxf(read, lay_out(read))
    assert caught.value.code == "dxf_not_installed"
