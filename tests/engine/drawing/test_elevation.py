"""Elevations read back from their own SVG: scale, positions, sums of dimensions, no overlap."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from PIL import ImageFont

from contractor.engine.drawing import elevation_pages, elevation_svg
from contractor.engine.drawing.canvas import A4, CanvasName, chain_texts, scale_for
from contractor.engine.layout import Layout, lay_out
from contractor.engine.survey import Survey
from contractor.engine.survey_reader import read_survey
from contractor.engine.units import System
from tests.engine.drawing.reading import SVG, dimensions, panels, parse, ticks_of
from tests.engine.materials.walls import line, parallel, survey

CANVASES: tuple[CanvasName, ...] = ("a4", "column", "phone")
WINDOW = {
    "kind": "opening",
    "label": "window",
    "from": "13 ft",
    "to": "16 ft",
    "bottom": "4 ft 6 in",
    "top": "6 ft 6 in",
    "removable": False,
}
DISTRESS = {
    "readings": [
        {"at": "6 ft", "height": "4 ft", "inward": "1 1/16 in"},
        {"at": "12 ft", "height": "4 ft", "inward": "1 3/8 in"},
    ],
    "cracks": [
        {"kind": "horizontal", "at": "12 ft", "height": "46 in", "width": "1/8 in"},
        {"kind": "stair_step", "at": "22 ft", "height": "3 ft", "width": "1/16 in"},
    ],
}


def wall(length: str = "24 ft", spacing: str = "16 in", **changes: Any) -> tuple[Survey, Layout]:
    base = survey()
    document = base | {
        "wall": base["wall"] | {"length": length},
        "heights": [
            {"at": "0 in", "slab_to_subfloor": "7'-9 1/2\""},
            {"at": length, "slab_to_subfloor": "7'-10\""},
        ],
        "framing": base["framing"] | {"centers": {"first": "8 in", "spacing": spacing}},
    }
    read = read_survey(document | changes)
    return read, lay_out(read)


BUSY: dict[str, Any] = {"features": [WINDOW, line(to="11 ft")], "distress": DISTRESS}


@pytest.mark.parametrize("canvas", CANVASES)
@pytest.mark.parametrize(
    ("length", "spacing"),
    [("24 ft", "16 in"), ("31'-5 3/8\"", "19.2 in"), ("78 ft", "24 in"), ("9 ft", "12 in")],
)
def test_spacings_add_up_to_the_wall(canvas: CanvasName, length: str, spacing: str) -> None:
    read, layout = wall(length, spacing)
    root = parse(elevation_svg(read, layout, canvas=canvas))
    shown = [ticks_of(e.text or "") for e in dimensions(root, "spacing")]
    assert len(shown) == len(layout.braces) + 1
    assert sum(shown) == read.wall.length_ticks
    ends = [
        (int(e.attrib["data-start"]), int(e.attrib["data-end"]))
        for e in dimensions(root, "spacing")
    ]
    assert ends[0][0] == 0 and ends[-1][1] == read.wall.length_ticks
    assert all(a[1] == b[0] for a, b in pairwise(ends))


def test_places_are_rounded_so_that_a_chain_never_drifts() -> None:
    """Three bays of 19.2 in (1228.8 ticks): rounding each alone would lose 1/16 in."""
    places = [0, 1229, 2458, 3686]
    assert sum(map(ticks_of, chain_texts(places, "us"))) == round(Fraction(3686, 4)) * 4
    metric = [int(text.removesuffix(" mm")) for text in chain_texts(places, "si")]
    assert sum(metric) == round(3686 * 25.4 / 64)


@pytest.mark.parametrize("canvas", CANVASES)
def test_beams_stand_where_the_layout_says_to_scale(canvas: CanvasName) -> None:
    read, layout = wall(**BUSY)
    root = parse(elevation_svg(read, layout, canvas=canvas))
    (panel,) = panels(root)
    beams = {e.attrib["data-beam"]: e for e in panel.found("rect", "data-beam")}
    assert sorted(beams) == sorted(b.mark for b in layout.braces)
    tolerance = 0.02 / panel.per_tick
    for brace in layout.braces:
        rect = {k: float(beams[brace.mark].attrib[k]) for k in ("x", "y", "width", "height")}
        assert panel.at(rect["x"] + rect["width"] / 2) == pytest.approx(
            brace.at_ticks, abs=tolerance
        )
        assert panel.height(rect["y"]) == pytest.approx(brace.beam_length_ticks, abs=tolerance)
        assert rect["height"] / panel.per_tick == pytest.approx(
            brace.beam_length_ticks, abs=tolerance
        )


def test_what_is_on_the_wall_is_drawn_to_scale() -> None:
    read, layout = wall(**BUSY)
    (panel,) = panels(parse(elevation_svg(read, layout)))
    drawn = {e.attrib["data-feature"]: e for e in panel.found("rect", "data-feature")}
    for feature in read.features:
        rect = {k: float(drawn[feature.label].attrib[k]) for k in ("x", "y", "width", "height")}
        assert panel.at(rect["x"]) == pytest.approx(feature.from_ticks, abs=2)
        assert rect["width"] / panel.per_tick == pytest.approx(
            feature.to_ticks - feature.from_ticks, abs=2
        )
        assert panel.height(rect["y"]) == pytest.approx(feature.top_ticks or 0, abs=2)
    joists = panel.found("rect", "data-joist")
    assert [int(j.attrib["data-at"]) for j in joists] == list(read.framing.center_ticks)
    (ground,) = panel.found("line", "data-fill")
    assert panel.height(float(ground.attrib["y1"])) == pytest.approx(6 * 768, abs=2)
    assert len(panel.found("path", "data-crack")) == 2
    assert len(panel.found("circle", "data-inward")) == 2


def test_the_named_scale_is_true_on_paper() -> None:
    """3/8 in of paper for a foot of wall, 1080 units on the 297 mm of A4 (ISO 216)."""
    scale = scale_for(A4, 24 * 768)
    assert scale.text == "3/8 in = 1 ft at A4"
    millimetres = scale.per_tick * 768 * 297 / 1080
    assert millimetres == pytest.approx(25.4 * 3 / 8)


def text_boxes(root: Any) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Return words and true boxes of all level text, measured with a real font."""
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont
    try:
        font = ImageFont.truetype("LiberationSans-Regular.ttf", 100)
    except OSError:
        font = ImageFont.load_default(100)
    found = []
    for element in root.iter(SVG + "text"):
        if "transform" in element.attrib:
            continue
        size, words = float(element.attrib["font-size"]), element.text or ""
        width = font.getlength(words) * size / 100
        x, y = float(element.attrib["x"]), float(element.attrib["y"])
        x -= {"middle": width / 2, "end": width}.get(element.attrib.get("text-anchor", ""), 0.0)
        found.append((words, (x, y - 0.72 * size, x + width, y + 0.05 * size)))
    return found


def overlaps(root: Any) -> list[tuple[str, str]]:
    boxes = text_boxes(root)
    return [
        (a, b)
        for i, (a, p) in enumerate(boxes)
        for b, q in boxes[i + 1 :]
        if p[0] < q[2] and q[0] < p[2] and p[1] < q[3] and q[1] < p[3]
    ]


@pytest.mark.parametrize("canvas", CANVASES)
@pytest.mark.parametrize("length", ["24 ft", "31'-5 3/8\"", "78 ft"])
@pytest.mark.parametrize("spacing", ["12 in", "16 in", "19.2 in", "24 in"])
def test_words_never_overlap_nor_leave_the_sheet(
    canvas: CanvasName, length: str, spacing: str
) -> None:
    read, layout = wall(length, spacing, **BUSY)
    root = parse(elevation_svg(read, layout, canvas=canvas))
    assert overlaps(root) == []
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    for words, box in text_boxes(root):
        assert box[0] >= 0 and box[2] <= width and box[1] >= 0 and box[3] <= height, words


def test_the_overlap_check_can_fail() -> None:
    read, layout = wall()
    svg = elevation_svg(read, layout)
    moved = re.sub(r'(<text x=")[0-9.]+(" y=")[0-9.]+', r"\g<1>300\g<2>300", svg)
    assert overlaps(parse(moved)) != []


@pytest.mark.parametrize("canvas", CANVASES)
def test_text_is_large_enough_to_read(canvas: CanvasName) -> None:
    """8 pt is 2.8 mm on paper; on a phone one unit is one css pixel, at least 9 of them."""
    read, layout = wall("78 ft", **BUSY)
    root = parse(elevation_svg(read, layout, canvas=canvas))
    sizes = [float(e.attrib["font-size"]) for e in root.iter(SVG + "text")]
    assert min(sizes) >= 9.0
    assert float(root.attrib["width"]) == {"a4": 1080, "column": 647, "phone": 360}[canvas]
    if canvas != "phone":
        assert min(sizes) * 297 / 1080 >= 2.4


def test_title_and_description_tell_the_drawing() -> None:
    read, layout = wall(**BUSY)
    root = parse(elevation_svg(read, layout, ident="north"))
    assert root.attrib["role"] == "img"
    labels = root.attrib["aria-labelledby"].split()
    title, desc = (root.find(f"*[@id='{label}']") for label in labels)
    assert title is not None and title.text == "Elevation of north wall"
    assert desc is not None and desc.text is not None
    for brace in layout.braces:
        assert f"Brace {brace.mark} stands " in desc.text
    assert "Opening: window." in desc.text


def test_unknown_facts_are_printed() -> None:
    read, layout = wall(soil=None, slab=None)
    root = parse(elevation_svg(read, layout))
    words = [e.text or "" for e in root.iter(SVG + "text")]
    assert any(
        text.startswith("Not known: soil, slab thickness, slab edge, water") for text in words
    )


def test_the_caution_stands_on_every_drawing_and_page() -> None:
    read, layout = wall("78 ft")
    pages = elevation_pages(read, layout)
    assert len(pages) >= 2
    for page in pages:
        assert "Screening, not engineering design." in page
        assert float(parse(page).attrib["height"]) <= 706
    rows = [
        e.attrib["data-row"]
        for p in pages
        for e in parse(p).iter(SVG + "g")
        if "data-row" in e.attrib
    ]
    assert rows == [brace.mark for brace in layout.braces]


def test_no_answer_is_drawn_as_what_cannot_be_bridged() -> None:
    door = WINDOW | {"label": "double door", "from": "6 ft", "to": "15 ft", "bottom": "0 in"}
    read, layout = wall(features=[door])
    assert layout.no_answer is not None
    root = parse(elevation_svg(read, layout))
    (panel,) = panels(root)
    (gap,) = panel.found("rect", "data-gap")
    assert panel.at(float(gap.attrib["x"])) == pytest.approx(layout.no_answer.from_ticks, abs=2)
    words = " ".join(e.text or "" for e in root.iter(SVG + "text"))
    assert "cannot be bridged" in words


def test_parallel_joists_show_backer_ends() -> None:
    read, layout = wall(framing=parallel())
    root = parse(elevation_svg(read, layout))
    (panel,) = panels(root)
    assert len(panel.found("rect", "data-backer")) == len(layout.braces)


def test_names_are_escaped() -> None:
    read, layout = wall(name='<b>"A" & B</b>')
    assert "&lt;b&gt;" in elevation_svg(read, layout)


def test_the_same_wall_gives_the_same_bytes_in_either_system() -> None:
    read, layout = wall(**BUSY)
    systems: tuple[System, ...] = ("us", "si")
    for system in systems:
        first = elevation_svg(read, layout, system=system)
        assert first == elevation_svg(read, layout, system=system)
    assert "1067 mm" in elevation_svg(read, layout, system="si")


def test_what_has_no_room_or_no_place_is_written_below() -> None:
    tight = {
        "readings": [{"at": "6 ft", "height": "4 ft", "inward": "1 1/16 in"}],
        "cracks": [{"kind": "horizontal", "at": None, "height": None, "width": None}],
    }
    crowd = [line(f"{b} in", f"{b + 2} in", label=f"pipe {b}", to="11 ft") for b in range(2, 78, 6)]
    read, layout = wall(distress=tight, features=crowd)
    root = parse(elevation_svg(read, layout, canvas="phone"))
    words = " ".join(e.text or "" for e in root.iter(SVG + "text"))
    assert "1 1/16 in" in words
    assert "horizontal crack, place not measured" in words
    for feature in read.features:
        assert feature.label in words


def test_a_page_a_little_too_high_takes_the_next_scale() -> None:
    read, layout = wall(**BUSY)
    notes = [f"Reason {n}." for n in range(4)]
    (page,) = elevation_pages(read, layout, notes=notes)
    assert "1/4 in = 1 ft at A4" in page
    (page,) = elevation_pages(read, layout)
    assert "3/8 in = 1 ft at A4" in page
