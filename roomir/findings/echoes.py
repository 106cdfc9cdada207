"""Single reflections that stand out: early ones behind the clap's own sound, and late echoes.

The octaves from 2 kHz up are put together, each in units of its own direct
sound, so that a wall that sends back all of it counts alike in each. A
reflection is a window that holds more than the diffuse decay has there by
chance (see `roomir.findings.envelope`). The claps of one spot share what the
room does and nothing else; spots are looked at one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from roomir.audio.recording import Recording
from roomir.claps.clap import Clap
from roomir.claps.echoes import likeness, loudest_echo_db
from roomir.decay.band_fit import BandFit
from roomir.decay.heard import HeardClap
from roomir.decay.likelihood import Floats, Ints
from roomir.decay.model import DecayModel
from roomir.findings.envelope import window_statistics
from roomir.findings.findings import Reflection
from roomir.rooms.statistics import sound_speed_m_per_s

LATE_S = 0.05
"""From here on a reflection is an echo and no part of the sound that caused it (the limit behind C50
and D50, ISO 3382-1:2009, A.2.3, for speech). [s]"""

LOWEST_HZ = 1500.0
"""Lower bands cannot tell when something arrives to a millisecond. [Hz]"""

WEAKEST_DB = -20.0
"""Early reflections weaker than this are left out. [dB re the direct sound]"""

MOST = 6
"""As many are listed for each spot, the strongest first found."""

STANDS_OUT_DB = 6.0
"""A late echo stands at least so far above the decay around it. [dB]"""

CHANCE = 1e-4
"""Chance that one spot shows one by the fluctuations of a diffuse decay."""

_STEP_S = 0.00025
_FALLS_DB = 10.0
_SHORTEST_S, _LONGEST_S = 0.001, 0.012
_WIDEST_S = 0.003
_BEFORE_S = 0.003
_BESIDE_S = 0.0015
_MAJORITY = 0.6
_ALIKE = 0.75


_NOTHING = 1e-14


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Course:
    """Energy over time of the claps of one spot, all in units of their own direct sound.

    ``relative`` has shape (n_claps, n), ``expected`` and ``mean`` (n,); time 0 is the direct sound.
    """

    clap_s: float
    time_s: Floats
    relative: Floats
    expected: Floats
    shape: float

    @property
    def mean(self) -> Floats:
        return np.asarray(self.relative.mean(axis=0))


def find_reflections(
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
    heard: Sequence[HeardClap],
    fits: Sequence[BandFit | None],
    *,
    spot: Ints,
    flutter_s: float | None,
) -> tuple[tuple[Reflection, ...], tuple[Reflection, ...]]:
    """Find the reflections that stand out in each spot.

    Parameters
    ----------
    recordings, found : sequence
        The takes, and the events of each.
    heard : sequence of HeardClap
        The claps that were used.
    fits : sequence of BandFit or None
        Their fits, band by band.
    spot : int array, shape (n_claps,)
        Spot of every clap.
    flutter_s : float, optional
        Spacing of a flutter; what repeats at it is no echo of its own. [s]

    Returns
    -------
    (tuple of Reflection, tuple of Reflection)
        Early reflections, behind the clap's own sound; and late echoes.
    """
    high = [f for f in fits if f is not None and f.band_filter.band.exact_hz >= LOWEST_HZ]
    early: list[Reflection] = []
    late: list[Reflection] = []
    for one in np.unique(spot):
        members = np.flatnonzero(spot == one)
        in_all = [fit for fit in high if np.isin(members, fit.rows).all()]
        if not in_all:
            continue
        course = _follow(in_all, members)
        if course is None:
            continue
        for at in _standing_out(course):
            reflection = _describe(course, at, spot=int(one), take=heard[int(members[0])].take)
            if reflection.claps < max(1, _MAJORITY * reflection.of_claps):
                continue
            if reflection.delay_s < LATE_S:
                if reflection.level_db >= WEAKEST_DB:
                    early.append(reflection)
            elif (
                reflection.over_decay_db >= STANDS_OUT_DB
                and not _repeats(course, at, flutter_s=flutter_s)
                and _is_no_second_blow(reflection, [heard[int(i)] for i in members], recordings, found)
            ):
                late.append(reflection)
    return _strongest(early), _strongest(late)


def _strongest(found: list[Reflection]) -> tuple[Reflection, ...]:
    kept: dict[int, list[Reflection]] = {}
    for one in sorted(found, key=lambda r: -r.level_db):
        kept.setdefault(one.spot, []).append(one)
    first = [r for those in kept.values() for r in those[:MOST]]
    return tuple(sorted(first, key=lambda r: (r.spot, r.delay_s)))


def _follow(fits: Sequence[BandFit], members: Ints) -> _Course | None:
    rows = [[int(np.flatnonzero(fit.rows == clap)[0]) for clap in members] for fit in fits]
    models = [[fit.model(row) for row in those] for fit, those in zip(fits, rows, strict=True)]
    stop_s = min(
        min(model.crosspoint_s(fit.traces[row].end_s), fit.traces[row].end_s)
        for fit, those, theirs in zip(fits, rows, models, strict=True)
        for row, model in zip(those, theirs, strict=True)
    )
    begins_s = max(fit.start_s for fit in fits)
    if stop_s < begins_s + 20.0 * _STEP_S:
        return None
    edges_s = np.arange(-_BEFORE_S, stop_s + _LONGEST_S, _STEP_S)
    until = np.array(
        [[fit.traces[row].until(edges_s) for row in those] for fit, those in zip(fits, rows, strict=True)]
    )
    clap_s = float(np.median([_clap_length_s(until[:, i]) for i in range(members.size)]))
    # A clap's tail, or the floor's reflection in it, would only dilute what is compared.
    n_window = max(2, round(min(clap_s, _WIDEST_S) / _STEP_S))
    energy = until[:, :, n_window:] - until[:, :, :-n_window]
    n_direct = int((_BEFORE_S + 0.5 * _LONGEST_S) / _STEP_S)
    loudest = energy[:, :, :n_direct].max(axis=2, keepdims=True)
    if not (loudest > 0.0).all():
        return None
    together = (energy / loudest).mean(axis=0)
    at_direct = together[:, :n_direct].argmax(axis=1)
    n = energy.shape[2] - int(at_direct.max())
    direct = np.array([[energy[b, i, at] for i, at in enumerate(at_direct)] for b in range(len(fits))])
    relative = np.array(
        [(energy[:, i, at : at + n] / direct[:, i, None]).mean(axis=0) for i, at in enumerate(at_direct)]
    )
    window_s = n_window * _STEP_S
    time_s = _STEP_S * np.arange(n)
    expected = np.mean(
        [
            [
                (_decaying(model, time_s + edges_s[at] + 0.5 * window_s) + model.noise)
                * window_s
                / direct[b, i]
                for i, (model, at) in enumerate(zip(theirs, at_direct, strict=True))
            ]
            for b, theirs in enumerate(models)
        ],
        axis=(0, 1),
    )
    shape = sum(
        window_statistics(
            window_bt=window_s * fit.band_filter.band.width_hz,
            step_bt=_STEP_S * fit.band_filter.band.width_hz,
        )[1]
        for fit in fits
    )
    # A band that a coder has emptied leaves nothing to expect.
    if not (np.isfinite(expected).all() and expected.min() > _NOTHING * expected.max()):
        return None
    ratio = relative.mean(axis=0) / expected
    settled = time_s >= max(begins_s, LATE_S)
    if settled.sum() > 4 * n_window:
        # What the clap's own spectrum, and bands of unequal strength, take off the theory.
        middle = ratio[settled]
        shape = min(shape, 1.0 / float(np.clip(_robust_variance(middle), 1e-3, 1e3)))
    return _Course(clap_s=clap_s, time_s=time_s, relative=relative, expected=expected, shape=float(shape))


def _decaying(model: DecayModel, time_s: Floats) -> Floats:
    parts = [level * np.exp(-rate * time_s) for level, rate in zip(model.levels, model.rates, strict=True)]
    return np.asarray(np.sum(parts, axis=0))


def _robust_variance(values: Floats) -> float:
    low, middle, high = np.quantile(values, [0.16, 0.5, 0.84])
    return float((0.5 * (high - low) / middle) ** 2) if middle > 0.0 else np.inf


def _clap_length_s(until: Floats) -> float:
    """How long the direct sound lasts: until a millisecond of it is 10 dB below its loudest. [s].

    ``until`` is the running energy of each band, shape (n_bands, n).
    """
    n = round(_SHORTEST_S / _STEP_S)
    loud = until[:, n:] - until[:, :-n]
    within = loud[:, : int((_BEFORE_S + _LONGEST_S) / _STEP_S)]
    together = (within / within.max(axis=1, keepdims=True)).mean(axis=0)
    top = int(together.argmax())
    below = np.flatnonzero(together[top:] < together[top] * 10.0 ** (-_FALLS_DB / 10.0))
    length_s = (int(below[0]) if below.size else together.size - top) * _STEP_S + 0.5 * _SHORTEST_S
    return float(np.clip(length_s, _SHORTEST_S, _LONGEST_S))


def _standing_out(course: _Course) -> list[int]:
    """Places of the windows that hold more than chance, each the highest within a clap's length."""
    ratio = course.mean / course.expected
    n_apart = max(2, round(course.clap_s / _STEP_S))
    # Cube roots of gamma variables are all but normal (Wilson and Hilferty, Proc. Natl. Acad. Sci. 17
    # (1931) 684).
    spread = 1.0 / (9.0 * course.shape)
    z = (np.cbrt(ratio) - (1.0 - spread)) / np.sqrt(spread)
    limit = NormalDist().inv_cdf(1.0 - CHANCE / max(ratio.size / n_apart, 1.0))
    excess = course.mean - course.expected
    out = []
    for at in range(n_apart + 1, ratio.size - n_apart):
        beside = slice(at - n_apart, at + n_apart + 1)
        if z[at] >= limit and 0.0 < excess[at] >= excess[beside].max() and at * _STEP_S > 1.5 * course.clap_s:
            out.append(at)
    return out


def _describe(course: _Course, at: int, *, spot: int, take: int) -> Reflection:
    excess = float(course.mean[at] - course.expected[at])
    n_beside = round(_BESIDE_S / _STEP_S)
    each = course.relative[:, max(at - n_beside, 0) : at + n_beside + 1].max(axis=1) - course.expected[at]
    delay_s = float(course.time_s[at])
    return Reflection(
        spot=spot,
        take=take,
        delay_s=delay_s,
        level_db=float(10.0 * np.log10(excess)),
        over_decay_db=float(10.0 * np.log10(excess / course.expected[at])),
        path_difference_m=delay_s * sound_speed_m_per_s(temperature_c=20.0),
        claps=int((each > 0.5 * excess).sum()),
        of_claps=int(course.relative.shape[0]),
    )


def _repeats(course: _Course, at: int, *, flutter_s: float | None) -> bool:
    """Whether it is one of a row of echoes at the flutter's spacing."""
    if flutter_s is None:
        return False
    n_beside = round(_BESIDE_S / _STEP_S)
    ratio = course.mean / course.expected
    for other in (at - round(flutter_s / _STEP_S), at + round(flutter_s / _STEP_S)):
        near = ratio[max(other - n_beside, 0) : max(other + n_beside + 1, 0)]
        if near.size and near.max() - 1.0 > 0.3 * (ratio[at] - 1.0):
            return True
    return False


def _is_no_second_blow(
    reflection: Reflection,
    claps: Sequence[HeardClap],
    recordings: Sequence[Recording],
    found: Sequence[Sequence[Clap]],
) -> bool:
    """Whether the room may have sent it back: never louder than a wall can, and the same in every clap.

    Hands never strike twice at the same distance to the millisecond. One clap alone has to show a copy
    of its own beginning.
    """
    if reflection.level_db > loudest_echo_db(reflection.delay_s, alike=True):
        return False
    if reflection.claps >= 2:
        return True
    clap = found[claps[0].take][claps[0].place]
    later = clap.onset + round(reflection.delay_s * clap.sample_rate_hz)
    return likeness(recordings[claps[0].take].sound, first=clap.onset, later=later) >= _ALIKE
