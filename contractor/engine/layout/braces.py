"""From a survey to its brace layout: limits, the exact best places, beam lengths, reasons."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from fractions import Fraction

from contractor.engine.errors import InputError
from contractor.engine.layout.answer import Basis, Brace, Layout, LimitFrom
from contractor.engine.layout.candidates import Place, places
from contractor.engine.layout.no_answer import explain, open_places
from contractor.engine.layout.reasons import ideal_places, reasons
from contractor.engine.layout.solve import Limits, best_path
from contractor.engine.survey import Survey
from contractor.engine.units import TICKS_PER_INCH, floor_to_sixteenth, format_length

AT_A_STATION_TICKS = TICKS_PER_INCH // 2


def lay_out(
    survey: Survey, *, spacing_limit_ticks: int | None = None, ignore_screening: bool = False
) -> Layout:
    """Return the best layout, found exactly, or the report why there is none.

    ``spacing_limit_ticks`` is what the screening can carry; the lower of it, the survey's
    ``screened_spacing_max`` and the company's rule holds, or with ``ignore_screening`` the rule
    alone. A wall shorter than twice ``corner_min`` gets no brace. Raises InputError where a
    brace stands outside the measured heights or has no room for a beam.
    """
    if ignore_screening:
        rules = replace(survey.rules, screened_spacing_max_ticks=None)
        return lay_out(replace(survey, rules=rules))
    limit, limit_from = spacing_limit(survey, spacing_limit_ticks)
    rules = survey.rules
    if survey.wall.length_ticks < 2 * rules.corner_min_ticks:
        return Layout((), limit, limit_from)
    limits = Limits(
        length=survey.wall.length_ticks,
        corner_ideal=rules.corner_ideal_ticks,
        corner_min=rules.corner_min_ticks,
        corner_max=rules.corner_max_ticks,
        spacing_min=rules.spacing_min_ticks,
        spacing_max=limit,
    )
    candidates = places(survey)
    free = open_places(candidates)
    path = best_path(
        [place.at_ticks for place in free], [len(place.specials) for place in free], limits
    )
    if path is None:
        report = explain(survey, candidates, limits, limit_from)
        return Layout((), limit, limit_from, report)
    ideals = ideal_places(len(path), limits)
    braces = tuple(
        _brace(number, free[index], ideal, candidates, limits, survey)
        for number, (index, ideal) in enumerate(zip(path, ideals, strict=True), start=1)
    )
    return Layout(braces, limit, limit_from)


def spacing_limit(survey: Survey, screened_ticks: int | None = None) -> tuple[int, LimitFrom]:
    """Return the spacing that holds and whether the company's rule or the screening sets it."""
    rules = survey.rules
    rule = rules.spacing_max_bad_ticks if survey.wall.damage == "bad" else rules.spacing_max_ticks
    screened = [
        ticks for ticks in (screened_ticks, rules.screened_spacing_max_ticks) if ticks is not None
    ]
    if screened and min(screened) < rule:
        return min(screened), "screening"
    return rule, "rule"


def _brace(
    number: int,
    place: Place,
    ideal: int,
    candidates: list[Place],
    limits: Limits,
    survey: Survey,
) -> Brace:
    return Brace(
        mark=f"B{number}",
        at_ticks=place.at_ticks,
        joist=place.joist,
        side=place.side,
        specials=place.specials,
        furring_layers=place.furring_layers,
        beam_length_ticks=beam_length_ticks(survey, place.at_ticks),
        basis=length_basis(survey, place.at_ticks),
        because=reasons(place, ideal, candidates, limits, survey),
    )


def height_at(survey: Survey, at: int) -> Fraction:
    """Return the height from slab to subfloor at ``at``, linear between the stations around it."""
    stations = survey.stations
    if not stations[0].at_ticks <= at <= stations[-1].at_ticks:
        raise InputError(
            "outside_heights",
            "/heights",
            f"A brace stands at {format_length(at)}, outside the measured heights.",
            "Measure the height from slab to subfloor there or beyond.",
        )
    index = bisect_left([station.at_ticks for station in stations], at)
    right = stations[index]
    if right.at_ticks == at:
        return Fraction(right.height_ticks)
    left = stations[index - 1]
    share = Fraction(at - left.at_ticks, right.at_ticks - left.at_ticks)
    return left.height_ticks + share * (right.height_ticks - left.height_ticks)


def beam_length_ticks(survey: Survey, at: int) -> int:
    """Return the cut length of the beam at ``at``, rounded down to 1/16 in."""
    height = height_at(survey, at) - survey.rules.top_gap_ticks
    if survey.framing.direction == "parallel":
        # The reader refuses parallel framing without a depth.
        depth = survey.framing.joist_depth_ticks or 0
        height -= depth + survey.rules.backer_thickness_ticks
    length = floor_to_sixteenth(int(height // 1))
    if length <= 0:
        raise InputError(
            "no_room_for_a_beam",
            "/heights",
            f"The height at {format_length(at)} leaves no room for a beam.",
            "Check the heights and the joist depth.",
        )
    return length


def length_basis(survey: Survey, at: int) -> Basis:
    """Return ``measured`` where a height was taken within 1/2 in of the brace."""
    near = any(abs(station.at_ticks - at) <= AT_A_STATION_TICKS for station in survey.stations)
    return "measured" if near else "provisional"
