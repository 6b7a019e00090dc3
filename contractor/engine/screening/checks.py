"""One check of one limit state, with the steps that a reader can follow to the clause."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from contractor.engine.data.basis import DERIVED, Basis, weakest

_PLACE = re.compile(r"(√?)\{(\d)\}(²|\^|)")


@dataclass(frozen=True)
class Number:
    """A named input: ``symbol`` as the code writes it, plain value, unit ("" for a ratio)."""

    symbol: str
    value: float
    unit: str
    basis: Basis = DERIVED
    label: str = ""


@dataclass(frozen=True)
class Step:
    """One line of the calculation: ``pattern`` is the formula with {0}, {1} for the numbers."""

    symbol: str
    label: str
    pattern: str
    numbers: tuple[Number, ...]
    value: float
    unit: str
    clause: str
    basis: Basis = DERIVED

    @property
    def formula(self) -> str:
        return self.pattern.format(*(number.symbol for number in self.numbers))

    @property
    def substituted(self) -> str:
        """Return the formula with the numbers and their units in place of the symbols."""
        return _PLACE.sub(self._number_text, self.pattern)

    def _number_text(self, place: re.Match[str]) -> str:
        root, index, power = place.groups()
        number = self.numbers[int(index)]
        text = f"{plain(number.value)} {number.unit}".rstrip()
        is_wrapped = number.unit and (root or power)
        return f"{root}({text}){power}" if is_wrapped else f"{root}{text}{power}"


@lru_cache(maxsize=4096)
def plain(value: float) -> str:
    """Return ``value`` with four significant digits, no exponent."""
    if value == 0:
        return "0"
    decimals = max(0, 3 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True)
class Check:
    """Demand against capacity in ``unit``; ``utilization`` above 1 asks for an engineer.

    ``is_computed`` False: ``reason`` says which fact is missing; the numbers are None then.
    """

    code: str
    title: str
    demand: float | None
    capacity: float | None
    unit: str
    utilization: float | None
    clause: str
    basis: Basis
    steps: tuple[Step, ...] = ()
    inputs: tuple[Number, ...] = ()
    reason: str = ""

    @property
    def is_computed(self) -> bool:
        return self.utilization is not None

    @property
    def passes(self) -> bool:
        return self.utilization is not None and self.utilization <= 1.0


def compare(
    code: str,
    title: str,
    demand: float,
    capacity: float,
    unit: str,
    clause: str,
    steps: Iterable[Step] = (),
    inputs: Iterable[Number] = (),
) -> Check:
    """Return the check of ``demand`` against ``capacity``; its basis is the weakest used."""
    steps, inputs = tuple(steps), tuple(inputs)
    bases = [step.basis for step in steps] + [number.basis for number in inputs]
    ratio = demand / capacity if capacity > 0 else math.inf
    return Check(
        code,
        title,
        demand,
        capacity,
        unit,
        ratio,
        clause,
        weakest(*bases) if bases else DERIVED,
        steps,
        inputs,
    )


def not_computed(code: str, title: str, clause: str, reason: str) -> Check:
    """Return a check that says why it was not made."""
    return Check(code, title, None, None, "", None, clause, "assumed", reason=reason)
