"""The stop list: what the wall shows or is, that an engineer must see before any brace.

Common practice in the trade unless a source is named beside the line. The list decides first;
nothing that follows can lift a stop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from contractor.engine.data.basis import MEMORY, PRACTICE, READ, Basis
from contractor.engine.screening.anchor_strength import MIN_SLAB_IN
from contractor.engine.screening.findings import TRADE, Reason
from contractor.engine.screening.hardware import Assumptions
from contractor.engine.screening.soil import is_unsuitable
from contractor.engine.survey import Survey

TICKS_PER_INCH = 64
MAX_FILL_IN = 96.0
CORNER_REACH_IN = 48.0
NOTABLE_INWARD_IN = 0.5


def _stop(code: str, text: str, source: str = TRADE, basis: Basis = PRACTICE) -> Reason:
    return Reason(code, text, source, basis, "stop")


def _unknown(code: str, text: str, source: str = TRADE, basis: Basis = PRACTICE) -> Reason:
    return Reason(code, text, source, basis, "unknown")


def _wall(survey: Survey) -> Iterator[Reason]:
    kind = survey.wall.kind
    if kind is None:
        yield _unknown("wall_kind_unknown", "What the wall is made of is not known.")
    elif kind == "stone":
        source = "IBC 2021 1807.1.3 asks rubble stone walls for 16 in at least"
        yield _stop("stone_wall", "Stone walls are not braced by this method.", source, READ)
    elif kind == "brick":
        yield _stop("brick_wall", "Brick foundation walls are not braced by this method.")
    elif kind == "wood":
        yield _stop("wood_wall", "Wood foundation walls are not braced by this method.")
    if survey.wall.thickness_ticks is None:
        yield _unknown("thickness_unknown", "The wall's thickness is not known.")
    if survey.distress.is_settling:
        yield _stop("wall_settling", "The wall settles or fails under the load from above.")


def _fill(survey: Survey) -> Iterator[Reason]:
    fill = survey.wall.fill_height_ticks
    if fill is None:
        yield _unknown("fill_unknown", "The height of the fill is not known: no load, no checks.")
        return
    if fill == 0:
        yield _unknown("no_fill", "No fill stands above the slab: what moves the wall is not soil.")
    if fill > MAX_FILL_IN * TICKS_PER_INCH:
        yield _stop("fill_above_8_ft", "The fill stands more than 8 ft above the slab.")
    lowest = min((station.height_ticks for station in survey.stations), default=None)
    if lowest is not None and fill > lowest:
        yield _stop("fill_above_wall", "The fill stands higher than the floor above it.")


def _ground(survey: Survey) -> Iterator[Reason]:
    soil = survey.soil
    source = "IBC 2021 Table 1610.1"
    if not soil.is_known:
        yield _unknown("soil_unknown", "The soil behind the wall is not known.", source, READ)
    elif soil.uscs is not None and is_unsuitable(soil.uscs):
        text = f"Soil {soil.uscs.upper()} is unsuitable as backfill: no tabulated load."
        yield _stop("soil_unsuitable", text, f"{source} note b", MEMORY)
    fill, depth = survey.wall.fill_height_ticks, survey.water_depth_ticks
    if depth is not None and fill is not None and depth < fill:
        text = "Ground water stands above the slab behind the wall: design required."
        yield _stop("water_above_slab", text, "IRC R404.1.1", READ)
    if survey.is_drained is False:
        text = "The backfill has no drain: full water pressure is to be designed for."
        yield _stop("undrained", text, "IBC 2021 1610.1", READ)


def _slab(survey: Survey) -> Iterator[Reason]:
    slab = survey.slab
    if slab.thickness_ticks is None:
        yield _unknown("slab_unknown", "The slab's thickness is not known: no anchor check.")
    elif slab.thickness_ticks == 0:
        yield _stop("slab_missing", "There is no slab to hold the foot of the brace.")
    elif slab.thickness_ticks < MIN_SLAB_IN * TICKS_PER_INCH:
        yield _stop("slab_too_thin", "The slab is thinner than 3-1/2 in.")
    if slab.edge_gap_ticks:
        text = "A gap or drain parts the slab from the wall: the slab does not prop the footing."
        yield _stop("slab_edge_gap", text)


def _floor(survey: Survey) -> Iterator[Reason]:
    kind = survey.framing.kind
    words = {
        "i_joist": (
            "i_joists",
            "I-joists: no bolt may pass a flange and the web is thin; the "
            "maker's or an engineer's detail is needed.",
        ),
        "truss": ("truss_joists", "Floor trusses take no bolts without the maker's detail."),
        "steel": ("steel_joists", "Steel joists need an engineer's detail."),
    }
    if kind in words:
        yield _stop(*words[kind])


def _bow(survey: Survey) -> Iterator[Reason]:
    readings = survey.distress.readings
    if not readings:
        return
    worst = max(reading.inward_ticks for reading in readings) / TICKS_PER_INCH
    thickness = survey.wall.thickness_ticks
    kern = thickness / TICKS_PER_INCH / 6 if thickness else None
    text = f"Inward movement {worst:.3g} in"
    mechanics = "mechanics: the load from above leaves the wall's middle third at t/6"
    if worst > 3:
        yield _stop("bow_above_3_in", f"{text}, more than 3 in: shoring or rebuilding is likely.")
    if kern is not None and worst > 2 * kern:
        yield _stop(
            "bow_above_t3",
            f"{text}, more than a third of the wall's thickness "
            f"({2 * kern:.3g} in): shoring or rebuilding is likely.",
        )
    if worst > 2:
        yield _stop("bow_above_2_in", f"{text}, more than 2 in: reviewed before bracing.")
    if kern is not None and worst > kern:
        yield _stop(
            "bow_above_t6",
            f"{text}, more than a sixth of the wall's thickness "
            f"({kern:.3g} in): reviewed before bracing.",
            mechanics,
        )
    yield from _bow_at_corners(survey)


def _bow_at_corners(survey: Survey) -> Iterator[Reason]:
    length = survey.wall.length_ticks / TICKS_PER_INCH
    notable = [
        reading.at_ticks / TICKS_PER_INCH
        for reading in survey.distress.readings
        if reading.inward_ticks >= NOTABLE_INWARD_IN * TICKS_PER_INCH
    ]
    is_near = [min(at, length - at) <= CORNER_REACH_IN for at in notable]
    if notable and all(is_near) and length > 4 * CORNER_REACH_IN:
        yield _stop(
            "bow_only_at_corner",
            "The wall bows only beside its corners, where a return wall should hold it.",
        )


def _base(survey: Survey) -> Iterator[Reason]:
    slide = survey.distress.base_slide_ticks
    if not slide:
        return
    if slide > TICKS_PER_INCH // 2:
        yield _stop(
            "base_slide",
            "The bottom course has slid more than 1/2 in: shoring or rebuilding is likely.",
        )
    else:
        yield _stop("base_slide", "The wall slides at its base; a brace does not hold its foot.")


def _company(assumptions: Assumptions) -> Iterator[Reason]:
    if (assumptions.seismic_category or "").upper() in ("D", "D0", "D1", "D2", "E", "F"):
        text = "Seismic design category D or higher: plain masonry and concrete need design."
        yield _stop("seismic", text, "IRC R404 tables exclude plain masonry there", MEMORY)


_LISTS: tuple[Callable[[Survey], Iterator[Reason]], ...] = (
    _wall,
    _fill,
    _ground,
    _slab,
    _floor,
    _bow,
    _base,
)


def stops(survey: Survey, assumptions: Assumptions) -> tuple[Reason, ...]:
    """Return every stop and every unknown that alone asks for an engineer, in list order."""
    found = [reason for part in _LISTS for reason in part(survey)]
    return (*found, *_company(assumptions))
