"""Two slopes come with both times and the level of the second. All values invented."""

from __future__ import annotations

import math

import numpy as np
import pytest

from roomir.synth.decay import Slope
from tests.findings.sounds import findings_of, response


def test_a_second_room_shows_with_both_times_and_its_level():
    rng = np.random.default_rng(1)
    second = Slope(decay_time_s=1.6, level_db=-20.0)
    rooms = [response(rng, decay_time_s=0.5, second=second, n_early=0, direct_db=-6.0) for _ in range(3)]
    found = {one.nominal_hz: one for one in findings_of(rooms, rng, background_db=-65.0).two_slopes}

    assert {1000.0, 2000.0} <= found.keys()
    for hz in (1000.0, 2000.0):
        assert found[hz].first_s == pytest.approx(0.5, rel=0.12)
        assert found[hz].second_s == pytest.approx(1.6, rel=0.12)
        assert found[hz].second_level_db == pytest.approx(-20.0, abs=3.0)
        # Both are equal where the faster has lost 20 dB more: 20 dB / (60/0.5 - 60/1.6) dB/s.
        assert found[hz].bend_s == pytest.approx(20.0 / (60.0 / 0.5 - 60.0 / 1.6), rel=0.2)
        fallen_db = 60.0 * found[hz].bend_s / found[hz].first_s
        assert found[hz].bend_db == pytest.approx(fallen_db - 10.0 * math.log10(2.0), abs=0.3)


def test_a_straight_decay_has_one_slope():
    rng = np.random.default_rng(2)
    rooms = [response(rng, decay_time_s=0.6, n_early=0) for _ in range(3)]

    assert findings_of(rooms, rng, background_db=-65.0).two_slopes == ()
