"""A comparison in a few sentences: what changed over all bands."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.compare.change import BandChange, Comparison
from roomir.compare.verdicts import RULED_OUT
from roomir.reading.reading import Reading
from roomir.report.rounding import MISSING, decimals_of, rounded
from roomir.report.wording import band_names, sentence


def headline_says(comparison: Comparison) -> str:
    """Say in a few sentences what changed over all bands.

    Parameters
    ----------
    comparison : Comparison
        Any.

    Returns
    -------
    str
        The verdict, the bands that it rests on, and what the others say.
    """
    bands = comparison.bands
    if not any(one.p_value is not None for one in bands):
        return "Cannot tell: in no band do both sides have a decay time."
    headline = comparison.headline
    if headline.verdict == "changed":
        changed = [one for one in bands if one.band in headline.changed]
        parts = [
            "Changed: "
            + "; ".join(
                filter(
                    None, (_moved(changed, "shorter", among=bands), _moved(changed, "longer", among=bands))
                )
            )
        ]
    elif headline.verdict == "no change found":
        percent = 100.0 * RULED_OUT
        parts = [f"No change found: one of {percent:.0f} % would have shown at mid frequencies"]
        if not {500.0, 1000.0} & {one.band.nominal_hz for one in bands if one.usable}:
            parts = [f"No change found: one of {percent:.0f} % would have shown"]
    else:
        parts = ["Cannot tell: no change stands out, and none can be ruled out"]
    parts += _mid(comparison)
    rest = [one for one in bands if one.band not in headline.changed and one.p_value is not None]
    alike = [one for one in rest if one.verdict == "within 5 percent"]
    alone = [one for one in rest if one.verdict in ("shorter", "longer") and one.usable]
    open_ = [one for one in rest if one.verdict == "cannot tell"]
    if alike:
        parts.append(f"within 5 percent of before at {names_of(alike, among=bands)}")
    if alone:
        looks = "looks" if len(alone) == 1 else "look"
        parts.append(
            f"{names_of(alone, among=bands)} alone {looks} changed,"
            " but among so many bands chance shows as much"
        )
    if open_ and headline.verdict != "cannot tell":
        parts.append(f"nothing can be told at {names_of(open_, among=bands)}")
    return " ".join(sentence(part) for part in parts)


def _moved(changed: Sequence[BandChange], verdict: str, *, among: Sequence[BandChange]) -> str:
    moved = [one for one in changed if one.verdict == verdict and one.change_percent is not None]
    if not moved:
        return ""
    percents = sorted(abs(one.change_percent or 0.0) for one in moved)
    low, high = f"{percents[0]:.0f}", f"{percents[-1]:.0f}"
    by = f"{high} %" if low == high else f"{low} to {high} %"
    return f"{verdict} at {names_of(moved, among=among)}, by {by}"


def _mid(comparison: Comparison) -> list[str]:
    times = [_mid_time(reading) for reading in (comparison.before, comparison.after)]
    if MISSING in times:
        return []
    return [f"at mid frequencies {times[0]} s before, {times[1]} s after"]


def _mid_time(reading: Reading) -> str:
    mid = reading.mid
    if mid.decay_time_s is None:
        return MISSING
    return rounded(mid.decay_time_s, decimals=decimals_of(mid.decay_time_s, interval=mid.ci95_s))


def names_of(bands: Sequence[BandChange], *, among: Sequence[BandChange]) -> str:
    """Name the bands of some changes, neighbours as a stretch."""
    return band_names([one.band for one in bands], among=[one.band for one in among])
