"""Flutter echo: sound that goes to and fro between two bare walls, and is heard as a row of equal echoes.

The score of the fine envelope is correlated with itself. A row of echoes
shows at its spacing and at every multiple of it, whatever the phase, and so
spots can be added up whose echoes fall at different moments, and a source
that is not midway between the walls, whose echoes come at two distances in
turn, shows at the sum of both. Under a diffuse decay each lag is a sum of
many small products with mean zero and a known variance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from roomir.decay.likelihood import Floats
from roomir.findings.envelope import STEP_S, FineEnvelope
from roomir.findings.findings import Flutter, FlutterBand, SurfacePair
from roomir.rooms.statistics import sound_speed_m_per_s

SHORTEST_S, LONGEST_S = 0.006, 0.15
"""Spacings that are looked for: walls 1 to 25 m apart. [s]"""

LOWEST_HZ = 900.0
"""Below, single modes beat in a small room, and that is periodic too. [Hz]"""

CHANCE = 1e-4
"""Chance that a diffuse decay shows a row of echoes in all bands together, were its scores normal, if
at least two bands show it. They are more often far out than normal ones; the rest of 1 % of takes is for
rooms that are not quite diffuse."""

CHANCE_ONE = 1e-7
"""The same where it shows in one of them only."""

CHANCE_ALONE = 1e-9
"""The same for one band by itself: few values, all of one clap's spectrum, are farther from normal,
and walls that keep one octave between them keep its neighbours too."""

WEAKEST_DB = -5.0
"""A weaker row is left out: every bare box has one along its length, whatever its walls. [dB]"""

BAND_BEYOND = 2.5
"""How many standard deviations a band has to show of a spacing that all of them together have shown."""

PAIR_WITHIN = 0.04
"""How far a spacing may be off a pair of surfaces: 3 % of its own, the rest air and tape measure."""

_LEAST_LEFT = 0.125
_MOST_MULTIPLES = 12
_LEAST_MULTIPLES = 3
_FINEST = 0.25
_SAME = 0.025
_LACK = 0.15
_LACK_BEYOND = 4.0
_SLACK_STEPS = 0.7
_SHOWN_SPACINGS = 4.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SelfLikeness:
    """How far a decay is like itself some time later, one band or several together.

    Attributes
    ----------
    likeness : array, shape (n,)
        Sum of the products of scores 0, 1, 2... steps apart.
    variance : array, shape (n,)
        What it has by chance.
    """

    likeness: Floats
    variance: Floats

    def __add__(self, other: SelfLikeness) -> SelfLikeness:
        """Put two bands together."""
        n = max(self.likeness.size, other.likeness.size)
        return SelfLikeness(
            likeness=_padded(self.likeness, n) + _padded(other.likeness, n),
            variance=_padded(self.variance, n) + _padded(other.variance, n),
        )

    @property
    def reach_s(self) -> float:
        """Longest time apart with enough left to compare. [s]"""
        return STEP_S * float(np.flatnonzero(self.variance >= _LEAST_LEFT * self.variance[0]).max())


def _padded(values: Floats, n: int) -> Floats:
    return np.pad(values, (0, n - values.size))


def self_likeness(envelope: FineEnvelope) -> SelfLikeness:
    """Correlate one band with itself, over all its spots."""
    n = envelope.score.shape[1]
    n_fft = 1 << (2 * n - 1).bit_length()
    likeness = np.fft.irfft(np.abs(np.fft.rfft(envelope.score, n_fft, axis=1)) ** 2, n_fft, axis=1)[:, :n]
    power = np.fft.irfft(np.abs(np.fft.rfft(envelope.share**2, n_fft, axis=1)) ** 2, n_fft, axis=1)[:, :n]
    likeness, power = likeness.sum(axis=0), np.maximum(power.sum(axis=0), 0.0)
    # A clap with a spectrum of its own makes the band narrower than its filter: the chance is
    # taken from what neighbouring windows have in common, if that is more than theory says.
    n_near = int(SHORTEST_S / STEP_S)
    near = likeness[:n_near] / np.maximum((envelope.share**2).sum(), 1e-12)
    spread = max(_spread(near), _spread(envelope.likeness))
    return SelfLikeness(likeness=likeness, variance=power * spread)


def _spread(likeness: Floats) -> float:
    return float(likeness[0] ** 2 + 2.0 * (likeness[1:] ** 2).sum())


def comb(alike: SelfLikeness, spacings_s: Floats) -> Floats:
    """Score of each spacing [s]: the likeness at its multiples, in standard deviations.

    Minus infinity where too few multiples are within reach to speak of a row.
    """
    multiples = np.arange(1, _MOST_MULTIPLES + 1)
    lags = np.outer(spacings_s, multiples) / STEP_S
    near = np.minimum(np.rint(lags).astype(np.intp), alike.likeness.size - 1)
    used = lags * STEP_S <= alike.reach_s
    variance = (alike.variance[near] * used).sum(axis=1)
    score = (alike.likeness[near] * used).sum(axis=1) / np.sqrt(np.maximum(variance, 1e-12))
    return np.where(used.sum(axis=1) >= _LEAST_MULTIPLES, score, -np.inf)


def spacings(reach_s: float) -> Floats:
    """Spacings to try, so close that the last multiple is met within a quarter of a step. [s]"""
    longest_s = min(LONGEST_S, reach_s / _LEAST_MULTIPLES)
    # Evenly as long as all multiples are within reach, and in a constant ratio from there on.
    apart_s = 2.0 * _FINEST * STEP_S
    even_s = np.arange(SHORTEST_S, min(longest_s, reach_s / _MOST_MULTIPLES), apart_s / _MOST_MULTIPLES)
    first_s = float(even_s[-1]) if even_s.size else SHORTEST_S
    n = max(math.ceil(math.log(max(longest_s / first_s, 1.0)) / math.log1p(apart_s / reach_s)), 0)
    return np.concatenate([even_s, first_s * (1.0 + apart_s / reach_s) ** np.arange(1, n + 1)])


def find_flutter(
    envelopes: Sequence[FineEnvelope], *, dimensions_m: tuple[float, float, float] | None = None
) -> Flutter | None:
    """Look for a row of echoes in every band and in all of them together.

    Parameters
    ----------
    envelopes : sequence of FineEnvelope
        Bands of one reading from `LOWEST_HZ` up.
    dimensions_m : (float, float, float), optional
        Length, width and height, to name the surfaces. [m]

    Returns
    -------
    Flutter or None
        The clearest; None where no search shows more than chance.
    """
    alike = [self_likeness(envelope) for envelope in envelopes]
    if not alike:
        return None
    together = alike[0]
    for one in alike[1:]:
        together = together + one
    rows = [(search, row) for search in (together, *alike) if (row := _best_row(search)) is not None]
    if not rows:
        return None
    best, row = max(rows, key=lambda one: one[1].beyond)
    spacing_s = row.spacing_s
    bands = _in_bands(envelopes, alike, spacing_s=spacing_s, alone=len(alike) == 1)
    in_several = best is together and sum(band.found for band in bands) >= 2
    if row.chance > (CHANCE if in_several else CHANCE_ALONE if best is not together else CHANCE_ONE):
        return None
    strengths = [band.strength_db for band in bands if band.strength_db is not None]
    steady = [band.mean_strength_db for band in bands if band.mean_strength_db is not None]
    if not strengths or max(*strengths, *steady) < WEAKEST_DB:
        return None
    way_m = spacing_s * sound_speed_m_per_s(temperature_c=20.0)
    n_shown = min(int(_SHOWN_SPACINGS * spacing_s / STEP_S) + 1, best.likeness.size)
    deviations = best.likeness[:n_shown] / np.sqrt(np.maximum(best.variance[:n_shown], 1e-12))
    return Flutter(
        spacing_s=spacing_s,
        beyond_chance=row.beyond,
        strength_db=float(np.median(strengths)),
        mean_strength_db=float(np.median(steady)),
        bands=bands,
        distance_m=0.5 * way_m,
        double_m=way_m,
        pairs=() if dimensions_m is None else _pairs(way_m, dimensions_m),
        likeness=tuple(float(one) for one in deviations),
    )


def _pairs(way_m: float, dimensions_m: tuple[float, float, float]) -> tuple[SurfacePair, ...]:
    """Pairs of surfaces whose distance is half of the way, or all of it, within what nobody measures."""
    return tuple(
        SurfacePair(along=along, apart_m=side_m, midway=midway)
        for midway in (False, True)
        for along, side_m in zip(("length", "width", "height"), dimensions_m, strict=True)
        if abs(way_m / (side_m if midway else 2.0 * side_m) - 1.0) <= PAIR_WITHIN
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """The clearest row of echoes of one search, and the chance that a diffuse decay shows one as clear."""

    spacing_s: float
    beyond: float
    chance: float


def _best_row(alike: SelfLikeness) -> _Row | None:
    tried = spacings(alike.reach_s)
    if tried.size < 2:
        return None
    scores = comb(alike, tried)
    beyond = float(scores.max())
    # Spacings side by side share most of their lags; every other one counts as a trial of its own.
    chance = NormalDist().cdf(-beyond) * max(0.5 * tried.size, 1.0)
    if chance > CHANCE:
        return None
    spacing_s = _whole_spacing(alike, float(tried[int(scores.argmax())]))
    return _Row(spacing_s=_refined(alike, spacing_s), beyond=beyond, chance=chance)


def _whole_spacing(alike: SelfLikeness, spacing_s: float) -> float:
    """Least time after which everything is repeated.

    A row of echoes is like itself at two, three and four times its spacing too; and one whose
    echoes come at two distances in turn is somewhat like itself at about half of their sum.
    """
    for factor in (4, 3, 2):
        if spacing_s / factor >= SHORTEST_S:
            less, _ = _lack_at_parts(alike, spacing_s / factor, factor=factor)
            if less <= _LACK:
                spacing_s /= factor
                break
    for factor in (2, 3, 4):
        if spacing_s * factor <= alike.reach_s / _LEAST_MULTIPLES:
            less, beyond = _lack_at_parts(alike, spacing_s, factor=factor)
            if less > _LACK and beyond > _LACK_BEYOND:
                return spacing_s * factor
    return spacing_s


def _lack_at_parts(alike: SelfLikeness, part_s: float, *, factor: int) -> tuple[float, float]:
    """How much less a decay is like itself at multiples of a part than at those of the whole.

    Returns
    -------
    (float, float)
        As a share of the latter, and in standard deviations.
    """
    n = min(_MOST_MULTIPLES, int(alike.reach_s / part_s / factor)) * factor
    k = np.arange(1, n + 1)
    lags = np.arange(alike.likeness.size)
    # The parts may miss by as much as the spacing is uncertain.
    near = k[:, None] * part_s / STEP_S + np.linspace(-_SLACK_STEPS, _SLACK_STEPS, 5)
    likeness = np.interp(near, lags, alike.likeness).max(axis=1)
    variance = np.interp(k * part_s / STEP_S, lags, alike.variance)
    whole = k % factor == 0
    at_parts, at_whole = (likeness[one].sum() / variance[one].sum() for one in (~whole, whole))
    spread = math.sqrt(1.0 / variance[~whole].sum() + 1.0 / variance[whole].sum())
    if at_whole <= 0.0:
        return 0.0, 0.0
    return float(1.0 - at_parts / at_whole), float((at_whole - at_parts) / spread)


def _around(alike: SelfLikeness, spacing_s: float) -> tuple[float, float] | None:
    """Best spacing within a few percent of one, and its score."""
    if not SHORTEST_S <= spacing_s <= alike.reach_s / _LEAST_MULTIPLES:
        return None
    tried = spacing_s * np.linspace(1.0 - _SAME, 1.0 + _SAME, 21)
    scores = comb(alike, tried)
    return float(tried[int(scores.argmax())]), float(scores.max())


def _refined(alike: SelfLikeness, spacing_s: float) -> float:
    """Spacing at the centre of gravity of the likeness around its multiples, the far ones counting most."""
    n = min(_MOST_MULTIPLES, int(alike.reach_s / spacing_s))
    lags = np.arange(alike.likeness.size)
    tried = spacing_s * np.linspace(1.0 - _SAME, 1.0 + _SAME, 101)
    multiples = np.outer(np.arange(1, n + 1), tried) / STEP_S
    smooth = np.interp(multiples, lags, alike.likeness).sum(axis=0)
    weight = np.maximum(smooth - 0.8 * smooth.max(), 0.0)
    return float((weight * tried).sum() / weight.sum()) if weight.sum() > 0.0 else spacing_s


def _in_bands(
    envelopes: Sequence[FineEnvelope], alike: Sequence[SelfLikeness], *, spacing_s: float, alone: bool
) -> tuple[FlutterBand, ...]:
    quiet = _between_echoes(envelopes, spacing_s=spacing_s)
    out = []
    for envelope, one, between in zip(envelopes, alike, quiet, strict=True):
        near = _around(one, spacing_s)
        beyond = near[1] if near is not None else 0.0
        found = alone or beyond >= BAND_BEYOND
        out.append(
            FlutterBand(
                nominal_hz=envelope.nominal_hz,
                found=found,
                beyond_chance=beyond,
                strength_db=_strength_db(envelope, between, weight=envelope.level) if found else None,
                mean_strength_db=_strength_db(envelope, between, weight=1.0) if found else None,
            )
        )
    return tuple(out)


def _between_echoes(envelopes: Sequence[FineEnvelope], *, spacing_s: float) -> list[NDArray[np.bool_]]:
    """Windows between the echoes: the quieter half of a spacing, by all bands, one array a band.

    Rows are spots that the bands need not share; each is folded by itself.
    """
    n_phases = max(4, round(spacing_s / STEP_S))
    out = []
    for envelope in envelopes:
        time_s = envelope.start_s + STEP_S * np.arange(envelope.score.shape[1])
        phase = (time_s / spacing_s % 1.0 * n_phases).astype(np.intp)
        quiet = np.zeros(envelope.score.shape, dtype=bool)
        for i, spot in enumerate(envelope.spots):
            profile = np.zeros(n_phases)
            for other in envelopes:
                where = np.flatnonzero(other.spots == spot)
                if where.size:
                    times_s = other.start_s + STEP_S * np.arange(other.score.shape[1])
                    at = (times_s / spacing_s % 1.0 * n_phases).astype(np.intp)
                    profile += np.bincount(at, weights=other.score[where[0]], minlength=n_phases)
            quiet[i] = (profile <= np.median(profile))[phase]
        out.append(quiet)
    return out


def _strength_db(envelope: FineEnvelope, between: NDArray[np.bool_], *, weight: Floats | float) -> float:
    """Energy of the echoes over that of the decay between them. [dB]"""
    weight = envelope.share * weight
    diffuse = float(np.average(envelope.ratio, weights=weight * between))
    whole = float(np.average(envelope.ratio, weights=weight))
    return 10.0 * math.log10(max(whole / max(diffuse, 1e-6) - 1.0, 1e-3))
