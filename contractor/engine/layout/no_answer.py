"""The report where no layout exists: what cannot be bridged, and which one change would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from contractor.engine.layout import reach
from contractor.engine.layout.answer import LimitFrom, NoAnswer, Remark
from contractor.engine.layout.candidates import Place, places
from contractor.engine.layout.solve import Limits, best_path
from contractor.engine.survey import Survey

#: No wall has more fixtures than this around one gap; it bounds the work on odd input.
MOST_TRIED = 40


def open_places(candidates: Sequence[Place]) -> list[Place]:
    return [place for place in candidates if place.is_open]


def explain(
    survey: Survey, candidates: Sequence[Place], limits: Limits, limit_from: LimitFrom
) -> NoAnswer:
    """Return the report; every change that it names has been solved again."""
    at = [place.at_ticks for place in open_places(candidates)]
    begin, end = reach.unbridged_stretch(at, limits)
    return NoAnswer(
        from_ticks=begin,
        to_ticks=end,
        largest_gap_ticks=reach.largest_gap(at, begin, end),
        would_help=(
            *_taking_out(survey, candidates, limits, (begin, end)),
            *_other_limits(at, limits, limit_from),
            *_parallel_detail(survey, limits),
        ),
    )


def _braces_then(candidates: Sequence[Place], limits: Limits) -> int | None:
    """Return how many braces a layout then has, None if there still is none."""
    free = open_places(candidates)
    path = best_path(
        [place.at_ticks for place in free], [len(place.specials) for place in free], limits
    )
    return None if path is None else len(path)


def _taking_out(
    survey: Survey, candidates: Sequence[Place], limits: Limits, stretch: tuple[int, int]
) -> list[Remark]:
    """Return the fixtures of which one alone keeps a row from getting through."""
    remarks = []
    for index in _alone_in_the_way(survey, candidates, limits, stretch)[:MOST_TRIED]:
        opened = [
            replace(place, blockers=()) if place.blockers == (index,) else place
            for place in candidates
        ]
        count = _braces_then(opened, limits)
        if count is not None:
            label = survey.features[index].label
            remarks.append(Remark((f"Take out or move {label}: {_fit(count)}.",)))
    return remarks


def _alone_in_the_way(
    survey: Survey, candidates: Sequence[Place], limits: Limits, stretch: tuple[int, int]
) -> list[int]:
    """Return fixtures that alone block a place from which the stretch could be crossed.

    A row that gets through must step from a place left of the stretch into the freed ones and
    from them to a place right of it.
    """
    begin = max(stretch[0] + limits.spacing_max, limits.corner_max)
    end = min(stretch[1] - limits.spacing_max, limits.length - limits.corner_max)
    alone = {place.blockers[0] for place in candidates if len(place.blockers) == 1}
    reach = survey.rules.clearance_ticks
    return [
        index
        for index in sorted(alone)
        if survey.features[index].kind == "fixture"
        and survey.features[index].from_ticks - reach <= begin
        and survey.features[index].to_ticks + reach >= end
    ]


def _fit(count: int) -> str:
    return "one brace then fits" if count == 1 else f"{count} braces then fit"


def _other_limits(at: Sequence[int], limits: Limits, limit_from: LimitFrom) -> list[Remark]:
    remarks = []
    if (most := reach.least_spacing_max(at, limits)) is not None:
        fit = _row_then(at, replace(limits, spacing_max=most))
        carried = " (the screening must carry it)" if limit_from == "screening" else ""
        more = (most - limits.spacing_max, f" more than now{carried}: {fit}.")
        remarks.append(Remark(("Allow a spacing of ", most, ", ", *more)))
    if (most := reach.least_corner_max(at, limits)) is not None:
        fit = _row_then(at, replace(limits, corner_max=most))
        more = (most - limits.corner_max, f" more than now: {fit}.")
        remarks.append(
            Remark(("Let the outer braces stand up to ", most, " from a corner, ", *more))
        )
    if (least := reach.greatest_spacing_min(at, limits)) is not None:
        fit = _row_then(at, replace(limits, spacing_min=least))
        remarks.append(Remark(("Let two braces stand as close as ", least, f": {fit}.")))
    return remarks


def _row_then(at: Sequence[int], limits: Limits) -> str:
    """Solve again with one limit changed."""
    return _fit(len(best_path(at, [0] * len(at), limits) or []))


def _parallel_detail(survey: Survey, limits: Limits) -> list[Remark]:
    if survey.framing.direction == "parallel":
        return []
    count = _braces_then(places(survey, any_place=True), limits)
    if count is None:
        return []
    words = "Use the parallel framing detail, a backer and blocking between the joists"
    return [Remark((f"{words}: {_fit(count)}.",))]
