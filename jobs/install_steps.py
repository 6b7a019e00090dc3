"""Steps and cautions of an install: the very ones that the printed sheet shows."""

from __future__ import annotations

from contractor.documents.install_sheet import CAUTIONS, JOB_STEPS, STEPS

__all__ = ["CAUTIONS", "JOB_STEPS", "STEPS"]
