"""Printed matter of a stored layout: made from its own documents, so it never changes."""

from __future__ import annotations

from contractor.documents import Sheet, calculation, drawing_sheet, install_sheet
from contractor.errors import NotFoundError
from jobs.models import BraceLayout


def drawing(row: BraceLayout, name: str) -> str:
    """Return a drawing as SVG. NotFoundError where this layout has none of that name."""
    text = row.drawings.get(name)
    if text is None:
        names = ", ".join(sorted(row.drawings)) or "none"
        raise NotFoundError(
            f"This layout has no drawing {name!r}.", remedy=f"Drawings here: {names}."
        )
    return str(text)


def calculation_sheet(row: BraceLayout) -> Sheet:
    """Every number of the screening with its formula, clause and basis."""
    return calculation.render(
        row.screening,
        layout=row.layout,
        drawing=row.drawings.get("column", ""),
        narrow_drawing=row.drawings.get("phone", ""),
    )


def drawings_sheet(row: BraceLayout) -> Sheet:
    """Wall elevation and, where joists run along the wall, the framing plan."""
    plans = [text for name, text in row.drawings.items() if name == "framing_plan"]
    return drawing_sheet.render(row.survey.wall, [drawing(row, "elevation")], plans)


def crew_sheet(row: BraceLayout) -> Sheet:
    """Steps and blanks per brace. NotFoundError where there is nothing to install."""
    if not row.layout["braces"]:
        raise NotFoundError("This layout has no braces.", remedy="See what would help in it.")
    return install_sheet.render(
        row.layout,
        row.bill,
        name=row.survey.document.get("name") or row.survey.wall,
        site=row.survey.site.label,
        screening=row.screening,
    )
