"""What a survey does not say, and what crew and office should heed though it is no stop."""

from __future__ import annotations

from collections.abc import Iterator

from contractor.engine.screening.findings import TRADE, Note
from contractor.engine.survey import Crack, Survey

TICKS_PER_INCH = 64
WIDE_CRACK_MM = 5.0
_ALWAYS = (
    Note(
        "not_checked",
        "Not checked here: the floor as a diaphragm, the joists and the sill under the brace's "
        "push, the bracket's own plates, the footing, the wall under loads from above, maker's "
        "data of anchors.",
        TRADE,
    ),
    Note(
        "pumping",
        "After a flood, pump only when water has left the ground, a third of the depth or 1 ft "
        "a day.",
        "FEMA; WVU Extension (read)",
    ),
)


def unknowns(survey: Survey) -> tuple[Note, ...]:
    """Return the facts that the survey does not record; each sheet lists them."""
    distress = survey.distress
    silent = (
        (
            survey.water_depth_ticks is None and survey.is_drained is None,
            "water",
            "Water behind the wall and drainage are not recorded.",
        ),
        (
            survey.surcharge_psf is None,
            "surcharge",
            "Loads on the ground near the wall are not recorded.",
        ),
        (
            survey.slab.edge_gap_ticks is None,
            "slab_edge",
            "A gap between slab and wall is not recorded.",
        ),
        (distress.base_slide_ticks is None, "base_slide", "Sliding at the base is not recorded."),
        (distress.is_settling is None, "settling", "Settlement is not recorded."),
        (not distress.readings, "readings", "No bow or lean readings."),
        (survey.framing.species is None, "species", "The joists' species is not recorded."),
        (True, "reinforcement", "Reinforcement in the wall is not known; none is counted on."),
    )
    return tuple(Note(code, text) for is_silent, code, text in silent if is_silent)


def cautions(survey: Survey) -> tuple[Note, ...]:
    """Return the cautions of a survey, each once."""
    found = [note for crack in survey.distress.cracks for note in _of_crack(crack)]
    for feature in survey.features:
        if feature.kind == "opening":
            text = f"{feature.label}: the wall beside an opening has no check of its own here."
            found.append(Note("opening", text, TRADE))
    return tuple(dict.fromkeys((*found, *_ALWAYS)))


def _of_crack(crack: Crack) -> Iterator[Note]:
    width = (crack.width_ticks or 0) * 25.4 / TICKS_PER_INCH
    kind = crack.kind.replace("_", "-")
    if width > WIDE_CRACK_MM:
        text = f"A {kind} crack is {width:.3g} mm wide: over 5 mm, ask an expert."
        source = "BRE Digest 251 (read), written for settlement of low-rise walls"
        yield Note("wide_crack", text, source)
    if crack.kind in ("vertical", "diagonal", "stair_step"):
        text = f"A {kind} crack can come from settlement; look at the footing."
        yield Note("crack_pattern", text, TRADE)
