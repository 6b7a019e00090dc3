"""Polynomials as coefficient tuples, lowest power first; exact roots by bracketing."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

Polynomial = tuple[float, ...]
_MAX_HALVINGS = 200


def value(coefficients: Sequence[float], x: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def derivative(coefficients: Sequence[float]) -> Polynomial:
    return tuple(power * coefficient for power, coefficient in enumerate(coefficients))[1:]


def integral(coefficients: Sequence[float], constant: float) -> Polynomial:
    """Return the integral from zero plus ``constant``."""
    parts = (coefficient / (power + 1) for power, coefficient in enumerate(coefficients))
    return (constant, *parts)


def roots(coefficients: Sequence[float], start: float, end: float) -> list[float]:
    """Return the real roots in [start, end], found between the turning points.

    Between two neighbouring roots of the derivative the polynomial is monotonic, so that a
    change of sign holds exactly one root. A root that only touches zero is found at the
    turning point itself.
    """
    if len(coefficients) < 2 or all(part == 0 for part in coefficients[1:]):
        return []
    turning = roots(derivative(coefficients), start, end)
    marks = [start, *turning, end]
    found = [x for x in marks if value(coefficients, x) == 0]
    for left, right in itertools.pairwise(marks):
        if value(coefficients, left) * value(coefficients, right) < 0:
            found.append(_bisect(coefficients, left, right))
    return sorted(found)


def _bisect(coefficients: Sequence[float], left: float, right: float) -> float:
    """Return the one root between a change of sign: Newton steps, kept inside the bracket."""
    slope = derivative(coefficients)
    is_rising = value(coefficients, right) > 0
    x = (left + right) / 2
    for _ in range(_MAX_HALVINGS):
        at = value(coefficients, x)
        if at == 0:
            return x
        if (at > 0) == is_rising:
            right = x
        else:
            left = x
        steepness = value(slope, x)
        step = x - at / steepness if steepness else left
        following = step if left < step < right else (left + right) / 2
        if following in (x, left, right):
            return following
        x = following
    return x
