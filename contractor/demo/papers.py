"""Write the demonstration's drawings, sheets and calendars to files."""

from __future__ import annotations

from pathlib import Path

from contractor.demo.working import Told


def write_papers(told: Told, folder: Path) -> list[str]:
    """Return the paths of what was written."""
    folder.mkdir(parents=True, exist_ok=True)
    return []
