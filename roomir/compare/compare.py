"""Two readings of one room set against each other, band by band."""

from __future__ import annotations

import math
from collections.abc import Sequence

from roomir.bands.band import Band
from roomir.compare.absorption import added_absorption
from roomir.compare.change import BandChange, Climate, Comparison, Headline
from roomir.compare.difference import (
    Difference,
    Side,
    between,
    more_spots_needed,
)
from roomir.compare.guards import guards_of
from roomir.compare.positions import Matches, difference_of_pairs, match
from roomir.compare.verdicts import RULED_OUT, SIGNIFICANT, adjusted, verdict_of
from roomir.decay.combine import LEAST_SPOTS
from roomir.errors import ParameterError
from roomir.reading.reading import Reading, RoomBand

_MID_HZ = (500.0, 1000.0)


def compare_readings(
    before: Reading,
    after: Reading,
    *,
    positions: tuple[Sequence[str | None], Sequence[str | None]] | None = None,
    volume_m3: float | None = None,
    climates: tuple[Climate, Climate] = (Climate(), Climate()),
    made_with: tuple[Sequence[str], Sequence[str]] = ((), ()),
) -> Comparison:
    """Set two readings of one room against each other.

    Parameters
    ----------
    before, after : Reading
        The room in both states.
    positions : (sequence of str or None, sequence of str or None), optional
        Name of the position of every take before and after. Where at least
        four names stand on both sides, these positions are compared one by
        one. Without it, both sides count as spots of their own.
    volume_m3 : float, optional
        Volume of the room, for the absorption that was added. [m3]
    climates : (Climate, Climate)
        Air before and after.
    made_with : (sequence of str, sequence of str)
        What made the sound before and after, as far as it was written down.

    Returns
    -------
    Comparison
        With a change for every band in which both sides have a decay time.

    Raises
    ------
    ParameterError
        If the volume is not a positive number.
    """
    if volume_m3 is not None and not (math.isfinite(volume_m3) and volume_m3 > 0.0):
        raise ParameterError(
            f"{volume_m3:g} is no size for a room",
            code="bad-room-size",
            remedy="give metres, cubic metres, feet or cubic feet above zero",
        )
    matches = None if positions is None else match(*positions)
    there = {one.figures.band: one for one in after.bands}
    bands = tuple(
        _band(one, there[one.figures.band], matches=matches, volume_m3=volume_m3, climates=climates)
        for one in before.bands
        if one.figures.band in there
    )
    return Comparison(
        before=before,
        after=after,
        volume_m3=volume_m3,
        climates=climates,
        headline=headline_of(bands),
        bands=bands,
        guards=guards_of(
            before,
            after,
            bands=bands,
            volume_m3=volume_m3,
            climates=climates,
            matches=matches,
            made_with=made_with,
        ),
    )


def side_of(band: RoomBand) -> Side | None:
    """Take from a band what a comparison needs; ``None`` where its decay time is withheld."""
    time_s = band.figures.decay_time_s
    if time_s is None or band.u_relative is None or band.u_theory_relative is None:
        return None
    return Side(
        decay_time_s=time_s,
        u_relative=band.u_relative,
        degrees_of_freedom=band.spots - 1 if band.interval_from == "scatter" and band.spots > 1 else None,
        u_theory_relative=band.u_theory_relative,
        spots=band.spots,
    )


def _band(
    before: RoomBand,
    after: RoomBand,
    *,
    matches: Matches | None,
    volume_m3: float | None,
    climates: tuple[Climate, Climate],
) -> BandChange:
    band = before.figures.band
    sides = side_of(before), side_of(after)
    if sides[0] is None or sides[1] is None:
        return BandChange(band=band, before=before.figures, after=after.figures)
    difference = None
    if matches is not None and len(matches.pairs) >= LEAST_SPOTS:
        difference = difference_of_pairs(before, after, pairs=matches.pairs)
    if difference is None:
        difference = between(before=sides[0], after=sides[1])
    verdict = verdict_of(difference.log_ratio, half_width=difference.log_half_width)
    area, area_ci95 = (
        (None, None)
        if volume_m3 is None
        else added_absorption(difference, band=band, volume_m3=volume_m3, climates=climates)
    )
    return BandChange(
        band=band,
        before=before.figures,
        after=after.figures,
        before_s=difference.before_s,
        after_s=difference.after_s,
        change_s=difference.after_s - difference.before_s,
        change_ci95_s=difference.interval_of(lambda after_s, before_s: after_s - before_s),
        change_percent=_percent(difference.log_ratio),
        change_ci95_percent=_percents(difference),
        p_value=difference.p_value,
        added_absorption_m2=area,
        added_absorption_ci95_m2=area_ci95,
        verdict=verdict,
        more_spots=(
            more_spots_needed(
                before=sides[0],
                after=sides[1],
                log_ratio=difference.log_ratio,
                positions=difference.positions,
                half_width=difference.log_half_width,
            )
            if verdict == "cannot tell"
            else None
        ),
        positions=difference.positions,
    )


def _percent(log_ratio: float) -> float:
    return 100.0 * math.expm1(min(log_ratio, 20.0))


def _percents(difference: Difference) -> tuple[float, float]:
    half = difference.log_half_width
    return _percent(difference.log_ratio - half), _percent(difference.log_ratio + half)


def headline_of(bands: Sequence[BandChange]) -> Headline:
    """Judge all bands together.

    Parameters
    ----------
    bands : sequence of BandChange
        Bands that are unusable on one side have no say.

    Returns
    -------
    Headline
        ``"changed"`` where at least one band stands although all were asked
        (Holm); ``"no change found"`` where none does and a change of
        `RULED_OUT` would have shown at mid frequencies (in all bands where
        mid frequencies are missing); ``"cannot tell"`` otherwise.
    """
    asked = [one for one in bands if one.usable]
    p_values = adjusted([one.p_value for one in asked if one.p_value is not None])
    changed: tuple[Band, ...] = tuple(
        one.band
        for one, p in zip(asked, p_values, strict=True)
        if p < SIGNIFICANT and one.verdict in ("shorter", "longer")
    )
    if changed:
        return Headline(verdict="changed", changed=changed)
    deciding = [one for one in asked if one.band.nominal_hz in _MID_HZ] or asked
    if deciding and all(_is_ruled_out(one) for one in deciding):
        return Headline(verdict="no change found", changed=())
    return Headline(verdict="cannot tell", changed=())


def _is_ruled_out(one: BandChange) -> bool:
    assert one.change_ci95_percent is not None
    low, high = one.change_ci95_percent
    return low >= -100.0 * RULED_OUT and high <= 100.0 * RULED_OUT
