"""Lines through readings, against NIST certified values, scipy and two worked walls."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from contractor.engine.movement import fit_line, theil_sen
from contractor.engine.movement.quantile import incomplete_beta, t_quantile

# NIST Statistical Reference Datasets, linear regression, dataset Norris: 36 observations.
# https://www.itl.nist.gov/div898/strd/ . The file lists y first, then x.
NORRIS_X = (
    *(0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4),
    *(0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3),
    *(0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5),
)
NORRIS_Y = (
    *(0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3),
    *(0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3),
    *(0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2),
)
DAYS = (0, 91, 182, 273, 365, 456, 547)
MOVING = (1.0, 1.031, 1.047, 1.078, 1.125, 1.141, 1.172)
RESTING = (1.0, 1.016, 0.984, 1.0, 1.031, 1.0, 1.016)


def years(days: tuple[int, ...] = DAYS) -> list[float]:
    return [day / 365.25 for day in days]


def test_norris_certified_values() -> None:
    """NIST StRD Norris, certified values: at least 10 digits each."""
    fit = fit_line(NORRIS_X, NORRIS_Y)
    assert fit.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert fit.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert fit.se_slope == pytest.approx(0.429796848199937e-03, rel=1e-11)
    assert fit.se_intercept == pytest.approx(0.232818234301152, rel=1e-11)
    assert fit.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)
    assert fit.r_squared == pytest.approx(0.999993745883712, rel=1e-13)
    assert fit.f_value == pytest.approx(5436385.54079785, rel=1e-10)
    assert fit.df == 34


def test_norris_intervals() -> None:
    """Slope interval and Theil-Sen of Norris, computed with scipy 1.17 (derived)."""
    fit = fit_line(NORRIS_X, NORRIS_Y)
    assert (fit.slope_low, fit.slope_high) == pytest.approx(
        (1.0012433657355737, 1.0029902703053264), rel=1e-12
    )
    line = theil_sen(NORRIS_X, NORRIS_Y)
    assert line.slope == pytest.approx(1.0021968365553604, rel=1e-12)
    assert (line.slope_low, line.slope_high) == pytest.approx(
        (1.0011153245594469, 1.0030534351145037), rel=1e-12
    )


@pytest.mark.parametrize(
    ("inches", "slope", "intercept", "se", "low", "high"),
    [
        (
            *(MOVING, 0.1164248205713753, 0.997700750337885, 0.005550801713136456),
            *(0.10215603051436781, 0.1306936106283828),
        ),
        (
            *(RESTING, 0.009030616158878334, 0.9999539065891881, 0.012065323874705554),
            *(-0.021984286234508918, 0.04004551855226558),
        ),
    ],
)
def test_two_walls_by_least_squares(
    inches: tuple[float, ...], slope: float, intercept: float, se: float, low: float, high: float
) -> None:
    """Two worked walls, computed with scipy.stats.linregress (derived), t(.975, 5) = 2.5706."""
    fit = fit_line(years(), inches)
    assert fit.slope == pytest.approx(slope, rel=1e-10)
    assert fit.intercept == pytest.approx(intercept, rel=1e-10)
    assert fit.se_slope == pytest.approx(se, rel=1e-10)
    assert (fit.slope_low, fit.slope_high) == pytest.approx((low, high), rel=1e-10)
    assert fit.t_factor == pytest.approx(2.5705818356363146, rel=1e-12)


@pytest.mark.parametrize(
    ("inches", "slope", "low", "high"),
    [
        (MOVING, 0.12442582417582385, 0.09432280219780206, 0.12530474452554755),
        (RESTING, 0.010683729433272404, -0.03210989010989014, 0.06421978021978028),
    ],
)
def test_two_walls_by_theil_sen(
    inches: tuple[float, ...], slope: float, low: float, high: float
) -> None:
    """The same walls, computed with scipy.stats.theilslopes (derived)."""
    line = theil_sen(years(), inches)
    assert line.slope == pytest.approx(slope, rel=1e-10)
    assert (line.slope_low, line.slope_high) == pytest.approx((low, high), rel=1e-10)


@pytest.mark.parametrize("df", [1, 2, 3, 5, 10, 34, 120, 5000])
@pytest.mark.parametrize("probability", [0.5, 0.75, 0.9, 0.975, 0.995, 0.9995])
def test_t_quantile_equals_scipy(probability: float, df: int) -> None:
    expected = float(stats.t.ppf(probability, df))
    assert t_quantile(probability, df) == pytest.approx(expected, rel=1e-11, abs=1e-14)


@pytest.mark.parametrize("x", [0.0, 1e-9, 0.1, 0.5, 0.9, 0.999999, 1.0])
@pytest.mark.parametrize("ab", [(0.5, 0.5), (2.5, 0.5), (17.0, 0.5), (3.0, 40.0)])
def test_incomplete_beta_equals_scipy(x: float, ab: tuple[float, float]) -> None:
    from scipy.special import betainc

    assert incomplete_beta(x, *ab) == pytest.approx(float(betainc(*ab, x)), rel=1e-10, abs=1e-15)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 2000), st.integers(-64, 256)),
        min_size=3,
        max_size=25,
        unique_by=lambda pair: pair[0],
    )
)
def test_random_readings_equal_scipy(pairs: list[tuple[int, int]]) -> None:
    x = [day / 365.25 for day, _ in pairs]
    y = [ticks / 64 for _, ticks in pairs]
    fit, line = fit_line(x, y), theil_sen(x, y)
    expected = stats.linregress(x, y)
    assert fit.slope == pytest.approx(float(expected.slope), rel=1e-8, abs=1e-9)
    robust = stats.theilslopes(y, x, method="joint")
    assert line.intercept == pytest.approx(float(robust.intercept), rel=1e-9, abs=1e-9)
    assert line.slope == pytest.approx(float(robust.slope), rel=1e-9, abs=1e-9)
    assert (line.slope_low, line.slope_high) == pytest.approx(
        (float(robust.low_slope), float(robust.high_slope)), rel=1e-9, abs=1e-9
    )


def test_two_readings_have_a_slope_and_no_interval() -> None:
    fit = fit_line([0.0, 365 / 365.25], [1.0, 1.1])
    assert fit.slope == pytest.approx(0.10006849315068495, rel=1e-12)
    assert (fit.slope_low, fit.se_slope, fit.df) == (None, None, 0)


@pytest.mark.parametrize("fit", [fit_line, theil_sen])
def test_one_day_has_no_slope(fit: object) -> None:
    with pytest.raises(ValueError, match="two different x"):
        fit([10.0, 10.0, 10.0], [1.0, 1.1, 1.0])  # type: ignore[operator]
