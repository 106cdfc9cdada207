"""The line of a decay curve against certified regression.

Source: National Institute of Standards and Technology, Statistical Reference Datasets, linear regression,
data set "Norris" (36 observations of lower difficulty; calibration of ozone monitors). Certified slope
1.00211681802045, R-squared 0.999993745883712.
"""

from fractions import Fraction

import numpy as np
import pytest

from roomir.decay.curve import DecayCurve, fit_line

# y, x as printed.
NORRIS = """
0.1 0.2      338.8 337.4  118.1 118.2  888.0 884.6  9.2 10.1     228.1 226.5  668.5 666.3  998.5 996.3
449.1 448.6  778.9 777.0  559.2 558.2  0.3 0.4      0.1 0.6      778.1 775.5  668.8 666.9  339.3 338.0
448.9 447.5  10.8 11.6    557.7 556.0  228.3 228.1  998.0 995.8  888.8 887.6  119.6 120.2  0.3 0.3
0.6 0.3      557.6 556.8  339.3 339.1  888.0 887.2  998.5 999.0  778.9 779.0  10.2 11.1    117.6 118.3
228.9 229.2  668.4 669.1  449.2 448.9  0.2 0.5
"""
CERTIFIED_SLOPE = 1.00211681802045
CERTIFIED_R_SQUARED = 0.999993745883712


def as_decay(x, y):
    """Curve that falls by ``y`` at time ``x``, with a foot below everything that the line leaves out."""
    order = np.argsort(x, kind="stable")
    return DecayCurve(time_s=np.append(x[order], 2000.0), level_db=np.append(-y[order], -1e5))


def test_the_data_are_the_certified_ones():
    # Slope and R-squared in exact fractions: a slip of the pen in any digit above would show.
    numbers = [Fraction(word) for word in NORRIS.split()]
    y, x = numbers[0::2], numbers[1::2]
    assert len(x) == len(y) == 36
    x_off = [value - sum(x) / 36 for value in x]
    y_off = [value - sum(y) / 36 for value in y]
    along = sum(a * b for a, b in zip(x_off, y_off, strict=True))
    across, up = sum(a * a for a in x_off), sum(b * b for b in y_off)
    assert float(along / across) == pytest.approx(CERTIFIED_SLOPE, rel=1e-15)
    assert float(along**2 / (across * up)) == pytest.approx(CERTIFIED_R_SQUARED, rel=1e-15)


def test_the_line_has_the_certified_slope_and_straightness():
    y, x = np.array(NORRIS.split(), dtype=float).reshape(-1, 2).T
    line = fit_line(as_decay(x, y), stretch_db=(0.0, -5e4))
    assert -60.0 / line.decay_time_s == pytest.approx(-CERTIFIED_SLOPE, rel=1e-13)
    assert line.nonlinearity_permille == pytest.approx(1000.0 * (1.0 - CERTIFIED_R_SQUARED), rel=1e-8)


def test_a_curve_that_rises_or_stops_short_has_no_line():
    y, x = np.array(NORRIS.split(), dtype=float).reshape(-1, 2).T
    rising = DecayCurve(time_s=np.sort(x), level_db=np.sort(y) - 1000.0)
    assert fit_line(rising, stretch_db=(0.0, -999.95)) is None
    falling = as_decay(x, y)
    stops_short = DecayCurve(time_s=falling.time_s[:-1], level_db=falling.level_db[:-1])
    assert fit_line(stops_short, stretch_db=(0.0, -5e4)) is None
