"""Two decay times against each other: intervals, tests and verdicts. Spot values are invented."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from roomir.compare.difference import Side, between, more_spots_needed, of_pairs
from roomir.compare.verdicts import adjusted, verdict_of

BEFORE_S = np.array([0.95, 0.89, 0.93, 0.90, 0.97])
AFTER_S = np.array([0.83, 0.80, 0.88, 0.79])


def side(times_s, *, u_theory=1e-6):
    """Equal weights, as in a textbook."""
    logs = np.log(times_s)
    return Side(
        decay_time_s=float(np.exp(logs.mean())),
        u_relative=float(logs.std(ddof=1) / math.sqrt(len(logs))),
        degrees_of_freedom=len(logs) - 1,
        u_theory_relative=u_theory,
        spots=len(logs),
    )


def made(time_s, *, u, spots=5, u_theory=0.0, dof=4):
    return Side(
        decay_time_s=time_s, u_relative=u, degrees_of_freedom=dof, u_theory_relative=u_theory, spots=spots
    )


def test_unlike_spots_are_compared_as_welch_does_it():
    # scipy's test for unequal variances, on the logarithms, is the outside reference.
    reference = stats.ttest_ind(np.log(AFTER_S), np.log(BEFORE_S), equal_var=False)
    interval = reference.confidence_interval(0.95)
    found = between(before=side(BEFORE_S), after=side(AFTER_S))
    # roomir takes the fewer degrees of freedom of ratio and difference: never narrower, hardly wider.
    assert found.log_half_width == pytest.approx((interval.high - interval.low) / 2, rel=0.01)
    assert found.log_half_width >= (interval.high - interval.low) / 2 - 1e-12
    assert found.p_value == pytest.approx(reference.pvalue, rel=0.05)


def test_the_same_positions_are_compared_as_pairs():
    after_s = BEFORE_S * np.array([0.88, 0.9, 0.87, 0.89, 0.91])
    reference = stats.ttest_rel(np.log(after_s), np.log(BEFORE_S))
    interval = reference.confidence_interval(0.95)
    found = of_pairs(before_s=BEFORE_S, after_s=after_s, u_relative=np.full(5, 1e-9))
    assert found.log_ratio - found.log_half_width == pytest.approx(interval.low, abs=1e-9)
    assert found.log_ratio + found.log_half_width == pytest.approx(interval.high, abs=1e-9)
    assert found.p_value == pytest.approx(reference.pvalue, rel=1e-6)


def test_pairs_cancel_what_is_peculiar_to_a_position():
    after_s = 0.9 * BEFORE_S * np.exp(0.002 * np.array([1, -1, 1, -1, 0]))
    paired = of_pairs(before_s=BEFORE_S, after_s=after_s, u_relative=np.full(5, 0.001))
    apart = between(before=side(BEFORE_S), after=side(after_s))
    assert paired.log_half_width < 0.1 * apart.log_half_width


def test_the_interval_in_seconds_is_that_of_independent_errors_where_they_are_small():
    before, after = made(1.0, u=0.01, dof=None), made(0.4, u=0.02, dof=None)
    low, high = between(before=before, after=after).interval_of(lambda a, b: a - b)
    half = 1.96 * math.hypot(1.0 * 0.01, 0.4 * 0.02)
    assert (low + high) / 2 == pytest.approx(-0.6, abs=1e-3)
    assert (high - low) / 2 == pytest.approx(half, rel=0.01)


@given(
    after_s=st.floats(0.2, 2.0),
    u=st.tuples(st.floats(1e-3, 0.2), st.floats(1e-3, 0.2)),
    dof=st.sampled_from([None, 3, 8]),
)
def test_seconds_percent_and_absorption_agree_on_whether_anything_changed(after_s, u, dof):
    difference = between(before=made(0.8, u=u[0], dof=dof), after=made(after_s, u=u[1], dof=4))
    log_holds_zero = abs(difference.log_ratio) <= difference.log_half_width
    if abs(abs(difference.log_ratio) / difference.log_half_width - 1.0) < 1e-4:
        return  # on the edge rounding decides
    for quantity in (lambda a, b: a - b, lambda a, b: 1.0 / a - 1.0 / b):
        low, high = difference.interval_of(quantity)
        assert (low <= 0.0 <= high) == log_holds_zero


def test_theory_is_never_undercut_by_spots_that_agree_by_luck():
    lucky = between(before=made(1.0, u=1e-4, u_theory=0.03), after=made(1.0, u=1e-4, u_theory=0.03))
    assert lucky.log_half_width == pytest.approx(1.96 * math.hypot(0.03, 0.03), rel=1e-3)
    assert lucky.p_value == 1.0


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (-0.20, -0.10, "shorter"),
        (0.01, 0.30, "longer"),
        (-0.04, 0.04, "within 5 percent"),
        (-0.04, -0.01, "within 5 percent"),  # certain, and too little to be heard
        (-0.08, -0.01, "shorter"),
        (-0.30, 0.01, "cannot tell"),
        (-0.04, 0.06, "cannot tell"),
    ],
)
def test_the_verdict_follows_from_the_interval(low, high, verdict):
    logs = math.log1p(low), math.log1p(high)
    assert verdict_of(sum(logs) / 2, half_width=(logs[1] - logs[0]) / 2) == verdict


def test_holm_adjusts_as_in_the_textbook_example():
    # The usual example of the method, from memory: of these the first and the last stand at 5 %.
    assert adjusted([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert adjusted([]) == []


@pytest.mark.parametrize("after_s", [0.93, 1.0])
def test_the_spots_that_are_asked_for_would_settle_it_and_one_fewer_would_not(after_s):
    before, after = made(1.0, u=0.03), made(after_s, u=0.03)
    difference = between(before=before, after=after)
    assert verdict_of(difference.log_ratio, half_width=difference.log_half_width) == "cannot tell"
    more = more_spots_needed(
        before=before, after=after, log_ratio=difference.log_ratio, half_width=difference.log_half_width
    )

    def with_more(k):
        grown = [
            made(one.decay_time_s, u=0.03 * math.sqrt(5 / (5 + k)), spots=5 + k, dof=4 + k)
            for one in (before, after)
        ]
        there = between(before=grown[0], after=grown[1])
        return verdict_of(there.log_ratio, half_width=there.log_half_width)

    assert more.on_each_side is not None
    assert with_more(more.on_each_side) != "cannot tell"
    assert with_more(more.on_each_side - 1) == "cannot tell"
    assert more.after_only is None or more.after_only >= more.on_each_side
