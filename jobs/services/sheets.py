"""Printed matter of a stored layout: made from its own documents, so it never changes."""

from __future__ import annotations

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
