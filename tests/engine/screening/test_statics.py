"""Closed-form statics against quadrature, an ODE solver and a finite-element frame."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.screening import polynomials
from contractor.engine.screening.bench import numerical_errors, random_case
from contractor.engine.screening.bench_numeric import frame_errors
from contractor.engine.screening.statics import Segment, simply_supported


def test_equals_numerical_integration_on_random_loads() -> None:
    """scipy: quad for reactions, DOP853 for moment and deflection, bounded search for peaks."""
    chance = random.Random(20250301)
    for _ in range(120):
        case = random_case(chance)
        errors = numerical_errors(case)
        assert max(errors.values()) < 1e-6, (case, errors)


def test_equals_a_finite_element_frame() -> None:
    """PyNiteFEA, one member with distributed loads; reactions, moment, deflection."""
    chance = random.Random(7)
    for _ in range(5):
        case = random_case(chance)
        errors = frame_errors(case.segments, case.span_in)
        assert max(errors.values()) < 1e-6, (case, errors)


def test_uniform_load() -> None:
    """Handbook: wL/2, wL2/8, 5wL4/384EI (AISC Manual Table 3-23 case 1)."""
    found = simply_supported((Segment(0.0, 100.0, 10.0, 10.0),), 100.0)
    assert found.top_lbf == found.bottom_lbf == pytest.approx(500.0)
    assert found.moment.value == pytest.approx(12_500.0)
    assert found.ei_deflection.value == pytest.approx(5 * 10 * 100**4 / 384)
    assert found.ei_deflection.at_in == pytest.approx(50.0)


def test_deflection_peak_stands_above_a_low_fill() -> None:
    """reference values, section 2: for h/L = 0.3 the peak is at L (1 - sqrt(1/3 - 0.3^2/10))."""
    found = simply_supported((Segment(0.0, 27.0, 100.0, 0.0),), 90.0)
    wanted = 90 * (1 - (1 / 3 - 0.09 / 10) ** 0.5)
    assert found.ei_deflection.at_in == pytest.approx(wanted, rel=1e-12)
    assert found.ei_deflection.at_in > 27.0


def test_segments_add_up() -> None:
    first, second = Segment(0.0, 60.0, 80.0, 10.0), Segment(20.0, 90.0, 5.0, 40.0)
    both = simply_supported((first, second), 90.0)
    alone = [simply_supported((part,), 90.0) for part in (first, second)]
    for x in (0.0, 10.0, 20.0, 55.5, 60.0, 75.0, 90.0):
        for name in ("moment", "slope", "deflection"):
            wanted = sum(one.at(name, x) for one in alone)
            assert both.at(name, x) == pytest.approx(wanted, abs=1e-6)


def test_a_segment_outside_the_span_is_refused() -> None:
    with pytest.raises(ValueError, match="outside the span"):
        simply_supported((Segment(0.0, 91.0, 1.0, 1.0),), 90.0)


@given(
    st.lists(st.floats(-5, 5), min_size=1, max_size=4),
    st.floats(0.2, 3),
)
@settings(max_examples=150, deadline=None)
def test_every_root_is_found(wanted: list[float], scale: float) -> None:
    """A polynomial made of its roots gives them back (those inside, apart from doubles)."""
    coefficients: tuple[float, ...] = (scale,)
    for root in wanted:
        shifted = (0.0, *coefficients)
        coefficients = tuple(
            high - root * low for high, low in zip(shifted, (*coefficients, 0.0), strict=True)
        )
    found = polynomials.roots(coefficients, -4.0, 4.0)
    for root in wanted:
        is_single = sum(abs(root - other) < 1e-2 for other in wanted) == 1
        if is_single and abs(root) < 3.99:
            assert any(abs(root - other) < 1e-6 for other in found), (root, found)
