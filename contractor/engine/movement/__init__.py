"""Does the wall move? Least squares with its interval, Theil-Sen beside it, and a verdict."""

from contractor.engine.movement.document import (
    Case,
    movement_document,
    read_case,
    write_verdicts,
)
from contractor.engine.movement.readings import (
    DEFAULT_POLICY,
    Policy,
    Reading,
    Series,
    Verdict,
)
from contractor.engine.movement.schedule import next_reading
from contractor.engine.movement.trend import LineFit, TheilSen, fit_line, theil_sen
from contractor.engine.movement.verdict import SeriesVerdict, judge_series, most_serious

__all__ = [
    "DEFAULT_POLICY",
    "Case",
    "LineFit",
    "Policy",
    "Reading",
    "Series",
    "SeriesVerdict",
    "TheilSen",
    "Verdict",
    "fit_line",
    "judge_series",
    "most_serious",
    "movement_document",
    "next_reading",
    "read_case",
    "theil_sen",
    "write_verdicts",
]
