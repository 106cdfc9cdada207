"""How often a change is claimed, found and held by its interval: a slice of ``tests/benchmarks/compare.py``.

The full counts, 2,000 pairs a setting, stand in ``tests/benchmarks/results/compare.txt``. Limits are what
chance allows once in some thousand tries where the share is as promised.
"""

import json

import pytest
from scipy.stats import binom

from roomir.compare.compare import compare_readings
from roomir.reading.reading import Reading
from tests.benchmarks.compare import drawn, heard
from tests.benchmarks.rooms_twice import AGAIN, NEW, PAIRED

N = 90


def most(share, n):
    """Most of n that a share may reach by chance."""
    return int(binom.ppf(0.9995, n, share))


@pytest.mark.parametrize("where", [NEW, AGAIN, PAIRED])
def test_no_change_is_seldom_called_a_change(where):
    tally = drawn(N, where=where, change=1.0, seed=7)
    assert tally.called <= most(0.05, tally.bands)
    assert tally.headlines_changed <= most(0.05, tally.pairs)
    if where == AGAIN:
        # Not told that the spots are the same, roomir allows for other ones: too wide, never too narrow.
        assert tally.holds >= 0.95 * tally.bands
    else:
        assert 0.92 < tally.holds / tally.bands < 0.98


def test_a_tenth_less_is_found_with_five_spots():
    tally = drawn(60, where=NEW, change=0.9, seed=7)
    found = sum(tally.found[hz] for hz in (500.0, 1000.0, 2000.0, 4000.0))
    assert found >= 0.9 * 4 * 60
    assert tally.headlines_changed >= 57
    assert 0.92 < tally.holds / tally.bands < 0.99


def test_from_sound_on_nothing_is_claimed_and_a_tenth_is_found():
    nothing = heard(2, where=NEW, change=1.0, seed=7)
    something = heard(2, where=NEW, change=0.9, seed=7)
    assert nothing.headlines_changed <= 1
    assert nothing.holds >= 0.75 * nothing.bands
    assert something.headlines_changed == 2


def test_the_committed_counts_keep_their_promises(checkout):
    results = json.loads((checkout / "tests/benchmarks/results/compare.json").read_text("utf-8"))["settings"]
    for name, one in results.items():
        if "no change" in name:
            share = 100.0 * most(0.05, one["pairs"]) / one["pairs"]
            assert one["bands_called_changed_percent"] <= 5.0, name
            assert one["headlines_changed_percent"] <= share, name
        if "the same spots again" not in name and name.startswith("drawn"):
            assert 93.0 <= one["interval_holds_percent"] <= 97.0, name
    for name in ("drawn, new spots, times 0.9", "heard, new spots, times 0.9"):
        shares = [results[name]["shorter_percent_by_hz"][hz] for hz in ("500", "1000", "2000", "4000")]
        assert sum(shares) / 4 >= 90.0


# --- a real room -------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def lab(shared_recordings) -> dict[str, Reading]:
    """A laboratory with panels turned to absorb not at all, half, and fully; four sources each."""
    import roomir

    return {
        state: roomir.read(sorted(shared_recordings.glob(f"r3vival_abs{state}_*.wav")))
        for state in ("000", "050", "100")
    }


def test_real_panels_shorten_a_real_room(lab):
    # Room of 9.7 x 5.5 x 2.7 m, S. V. Amengual Gari, "R3VIVAL" (CC BY 4.0).
    found = compare_readings(lab["000"], lab["100"], volume_m3=144.0)
    assert found.headline.verdict == "changed"
    by_hz = {one.band.nominal_hz: one for one in found.bands}
    for hz in (500.0, 1000.0, 2000.0, 4000.0, 8000.0):
        one = by_hz[hz]
        assert one.verdict == "shorter"
        # Walls of that room measure 82 m2 in all: absorption is added, and not more than all of them.
        assert 5.0 < one.added_absorption_ci95_m2[0] < one.added_absorption_ci95_m2[1] < 82.0
    # Porous panels take more of the treble than of the bass.
    added = [by_hz[hz].added_absorption_m2 for hz in (250.0, 500.0, 1000.0, 2000.0, 4000.0)]
    assert added == sorted(added)


def test_half_the_panels_do_part_of_what_all_do(lab):
    half = compare_readings(lab["000"], lab["050"], volume_m3=144.0)
    rest = compare_readings(lab["050"], lab["100"], volume_m3=144.0)
    for one, other in zip(half.bands, rest.bands, strict=True):
        if one.band.nominal_hz >= 500.0:
            assert one.verdict == "shorter"
            assert other.verdict == "shorter"
            assert one.added_absorption_m2 > other.added_absorption_m2 > 0.0
