"""The answer of a screening as plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from contractor.engine.screening.brace import bay_check
from contractor.engine.screening.brace_load import Demand
from contractor.engine.screening.case import TICKS_PER_INCH, Case
from contractor.engine.screening.checks import Check
from contractor.engine.screening.findings import Note, Outcome, Reason
from contractor.engine.screening.handling import Handling
from contractor.engine.screening.spacing import SpacingLimit
from contractor.engine.screening.torque import TorqueLimit

#: (mark, position in ticks) of each brace, from left to right.
Positions = tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class BraceClass:
    """Braces with the same span and the same width of wall share one calculation."""

    name: str
    marks: tuple[str, ...]
    demand: Demand
    checks: tuple[Check, ...]

    @property
    def worst(self) -> Check | None:
        return most_used(self.checks)


@dataclass(frozen=True)
class ScreenedBrace:
    mark: str
    at_ticks: int
    tributary_ticks: int
    span_in: float
    class_name: str


@dataclass(frozen=True)
class Bay:
    """The wall from one brace (or corner) to the next."""

    from_mark: str
    to_mark: str
    width_ticks: int
    check: Check


@dataclass(frozen=True)
class Governing:
    """The most used check; ``where`` is a brace class or a bay."""

    where: str
    check: Check


@dataclass(frozen=True)
class Screening:
    """The whole answer; ``reasons`` is empty exactly when the outcome is within limits."""

    outcome: Outcome
    reasons: tuple[Reason, ...]
    case: Case
    braces: tuple[ScreenedBrace, ...]
    classes: tuple[BraceClass, ...]
    bays: tuple[Bay, ...]
    governing: Governing | None
    limit: SpacingLimit
    torque: TorqueLimit | None
    torque_if_packed: TorqueLimit | None
    handling: Handling | None
    cautions: tuple[Note, ...]

    @property
    def failing(self) -> tuple[str, ...]:
        """Return the codes of the checks that fail, each once, in the order of the reasons."""
        return tuple(reason.code for reason in self.reasons if reason.kind == "check")

    @property
    def positions(self) -> Positions:
        return tuple((brace.mark, brace.at_ticks) for brace in self.braces)

    def bay_check_at(self, width_ticks: int, span_in: float) -> Check:
        """Return the check of the wall over a bay of another width."""
        return bay_check(self.case, width_ticks / TICKS_PER_INCH, span_in)

    @property
    def utilization(self) -> float | None:
        return self.governing.check.utilization if self.governing else None

    @property
    def largest_bay_ticks(self) -> int:
        """Return the widest spacing between two braces; 0 with fewer than two."""
        inner = [
            bay.width_ticks for bay in self.bays if "corner" not in (bay.from_mark, bay.to_mark)
        ]
        return max(inner, default=0)


@dataclass(frozen=True)
class Evaluation:
    """Every check of every brace class and bay, without the stop list."""

    braces: tuple[ScreenedBrace, ...]
    classes: tuple[BraceClass, ...]
    bays: tuple[Bay, ...]

    @property
    def checks(self) -> tuple[Check, ...]:
        """Return every check that was computed."""
        found = [check for group in self.classes for check in group.checks]
        found += [bay.check for bay in self.bays]
        return tuple(check for check in found if check.is_computed)

    @property
    def governing(self) -> Governing | None:
        return governing_of(self.classes, self.bays)


def most_used(checks: Sequence[Check]) -> Check | None:
    computed = [check for check in checks if check.is_computed]
    return max(computed, key=lambda check: check.utilization or 0.0, default=None)


def governing_of(classes: tuple[BraceClass, ...], bays: tuple[Bay, ...]) -> Governing | None:
    found = [Governing(group.name, check) for group in classes for check in group.checks]
    found += [Governing(f"{bay.from_mark} to {bay.to_mark}", bay.check) for bay in bays]
    computed = [item for item in found if item.check.is_computed]
    return max(computed, key=lambda item: item.check.utilization or 0.0, default=None)
