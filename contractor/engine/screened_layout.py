"""Layout and screening together: the screening limits the spacing, then judges the layout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from contractor.engine.layout.answer import Layout
from contractor.engine.layout.braces import lay_out
from contractor.engine.layout.document import layout_document
from contractor.engine.screening.answer import Screening
from contractor.engine.screening.findings import DISCLAIMER
from contractor.engine.screening.hardware import DEFAULT_SHAPE, Assumptions, BraceKit
from contractor.engine.screening.screen import screen
from contractor.engine.screening.spacing import spacing_limit
from contractor.engine.survey import Survey
from contractor.engine.units import System

NOT_SCREENED = "This layout follows the company's rules only; it was not screened."


@dataclass(frozen=True)
class ScreenedLayout:
    """``screening`` is None where none was asked for."""

    survey: Survey
    layout: Layout
    screening: Screening | None

    def document(self, system: System = "us") -> dict[str, Any]:
        """Return the ``brace-layout/1`` document with the screening's reasons and cautions."""
        if self.screening is None:
            return layout_document(
                self.layout, self.survey, system, cautions=(DISCLAIMER, NOT_SCREENED)
            )
        return layout_document(
            self.layout,
            self.survey,
            system,
            review=[(reason.code, reason.text) for reason in self.screening.reasons],
            cautions=(DISCLAIMER, *(note.text for note in self.screening.cautions)),
        )


def lay_out_screened(
    survey: Survey,
    *,
    shape: str = DEFAULT_SHAPE,
    grade: str | None = None,
    kit: BraceKit | None = None,
    assumptions: Assumptions | None = None,
) -> ScreenedLayout:
    """Return the layout within the spacing that the screening carries, and its screening.

    Where the screening cannot name a spacing the layout goes by the company's rule, and the
    screening asks for an engineer; so it does where a corner's bay is too wide for a weak wall
    (``rules.corner_max`` is the company's own). Raises InputError.
    """
    limit = spacing_limit(survey, shape=shape, grade=grade, kit=kit, assumptions=assumptions)
    layout = lay_out(survey, spacing_limit_ticks=limit.ticks)
    screening = screen(
        survey, layout, shape=shape, grade=grade, kit=kit, assumptions=assumptions, limit=limit
    )
    return ScreenedLayout(survey, layout, screening)


def lay_out_by_rule(survey: Survey) -> ScreenedLayout:
    """Return the layout by the company's plain rules: no screening limit of any origin."""
    return ScreenedLayout(survey, lay_out(survey, ignore_screening=True), None)
