"""An upper edge: above some frequency the recorder kept nothing, whatever the rate promises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import Band, carries
from roomir.faults.fault import Fault
from roomir.faults.heard import Heard
from roomir.remarks import Remark

Powers = NDArray[np.float64]

VOICE_EDGE_HZ = 4400.0
"""Where sound that never was sampled faster than 8000 times a second ends: a telephone carries 300 to
3400 Hz (ITU-T G.712), a sharp filter up to 4000, a slack one some more. [Hz]"""

COMMON_RATES_HZ = (8000, 11025, 12000, 16000, 22050, 24000, 32000)
"""Rates below 44100 at which recorders work. [Hz]"""

_REMEDY = (
    "record with an app that writes WAV, FLAC or M4A at 44100 or 48000 samples a second; not through a call,"
    " a messenger or a wireless headset"
)
MIRRORS_OF = 4
"""So many claps of a take are asked whether their spectrum mirrors: they agree."""

_LENGTH_S = 0.08
_LOWEST_HZ = 1500.0
_RATIO = 1.015
_BELOW = (0.80, 0.955)
_ABOVE = (1.045, 1.25)
_DROP_DB = 22.0
_NOTHING_ABOVE_DB = 15.0
_INSIDE = 1.03
_GUARDS = (0.82, 1.09)
_PULSE_S = 0.01
_MIRROR_SHARE = 0.2
_MIRRORS = 0.4
_MIRRORED_MORE = 2.5
_EDGE_FALL_DB = 8.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EarlySpectrum:
    """Spectrum of the first 80 ms of a clap.

    Attributes
    ----------
    power : Powers, shape (n_bins,)
        Summed over channels; the whole sums up to 1.
    step_hz : float
        Distance of the bins. [Hz]
    mirrored : Powers, shape (n_rates,)
        For each of ``COMMON_RATES_HZ`` how far the phases above half that
        rate mirror those below, 0 to 1.
    """

    power: Powers
    step_hz: float
    mirrored: Powers


def early_spectrum(heard: Heard, *, with_mirrors: bool) -> EarlySpectrum:
    """Transform the beginning of a clap; without mirrors these are left at 0."""
    rate = heard.rate_hz
    n = round(_LENGTH_S * rate)
    n_fft = 1 << (n - 1).bit_length()
    lead = max(heard.onset - n // 32, 0)
    sound = heard.samples[lead : min(lead + n, heard.stop)]
    fade = np.cos(0.5 * np.pi * np.arange(sound.shape[0]) / max(sound.shape[0], 1)).astype(np.float32)
    spectrum = np.fft.rfft(sound * fade[:, np.newaxis], n_fft, axis=0)
    power = (spectrum.real.astype(np.float64) ** 2 + spectrum.imag.astype(np.float64) ** 2).sum(axis=1)
    mirrored = np.zeros(len(COMMON_RATES_HZ))
    if with_mirrors:
        mirrored = _mirrored(_late_spectrum(heard, n=n, n_fft=n_fft), step_hz=rate / n_fft)
    return EarlySpectrum(
        power=power / max(float(power.sum()), 1e-300),
        step_hz=rate / n_fft,
        mirrored=mirrored,
    )


def _late_spectrum(heard: Heard, *, n: int, n_fft: int) -> NDArray[np.complexfloating]:
    """Spectrum of one channel behind the direct sound."""
    late = heard.samples[heard.onset + round(_PULSE_S * heard.rate_hz) : heard.stop, 0][:n]
    window = np.sin(np.pi * np.arange(late.size) / max(late.size, 1)).astype(np.float32)
    return np.asarray(np.fft.rfft(late * window, n_fft))


def _mirrored(spectrum: NDArray[np.complexfloating], *, step_hz: float) -> Powers:
    """How far phases mirror at half of each common rate, and not as far beside it.

    Sound of a low rate put on lines between its samples keeps images of
    itself above half that rate: the spectrum there is what lies below,
    weakened, with its phases turned round. A single pulse mirrors at every
    frequency; reverberation at none.
    """
    phase = spectrum / np.maximum(np.abs(spectrum), 1e-30)

    def coherence(centre_hz: float) -> float:
        centre, reach = round(centre_hz / step_hz), round(_MIRROR_SHARE * centre_hz / step_hz)
        if centre + reach >= phase.size:
            return 0.0
        above, below = phase[centre + 2 : centre + reach], phase[centre - 2 : centre - reach : -1]
        return float(np.abs((above * below).mean()))

    out = np.zeros(len(COMMON_RATES_HZ))
    for i, rate_hz in enumerate(COMMON_RATES_HZ):
        at = coherence(0.5 * rate_hz)
        beside = max(coherence(0.5 * rate_hz * k) for k in (0.93, 1.07)) if at > _MIRRORS else 0.0
        out[i] = at if at > _MIRRORED_MORE * beside else 0.0
    return out


def upper_edge_hz(power: Powers, *, step_hz: float) -> float | None:
    """Find a frequency above which the power drops as no room and no microphone makes it drop.

    Parameters
    ----------
    power : Powers, shape (n_bins,)
        Mean over the claps of a take.
    step_hz : float
        Distance of the bins. [Hz]

    Returns
    -------
    float or None
        The edge, where the power falls by 22 dB or more within half an octave
        (44 dB an octave; a microphone's own roll-off has 6 to 12) and does not
        come back. [Hz]
    """
    highest_hz = step_hz * (power.size - 1)
    n_edges = int(np.log(highest_hz / _ABOVE[1] / _LOWEST_HZ) / np.log(_RATIO)) if highest_hz > 2500.0 else 0
    if n_edges < 2:
        return None
    edges_hz = _LOWEST_HZ * _RATIO ** np.arange(n_edges)
    total = np.concatenate([[0.0], np.cumsum(power)])
    logs = np.concatenate([[0.0], np.cumsum(10.0 * np.log10(np.maximum(power, 1e-16)))])

    def mean(sums: Powers, part: tuple[float, float]) -> Powers:
        low, high = ((part[i] * edges_hz / step_hz).astype(np.intp) for i in (0, 1))
        return np.asarray((sums[high] - sums[low]) / np.maximum(high - low, 1))

    # The mean of logarithms lies 2.5 dB below the logarithm of the mean.
    below_db = mean(logs, _BELOW) + 2.5
    above_db = 10.0 * np.log10(np.maximum(mean(total, _ABOVE), 1e-16))
    drop_db = below_db - above_db
    smooth_db = 10.0 * np.log10(np.maximum(np.convolve(power, np.full(16, 1.0 / 16.0), mode="same"), 1e-16))
    loudest_above_db = np.maximum.accumulate(smooth_db[::-1])[::-1]
    beyond = loudest_above_db[(_ABOVE[0] * edges_hz / step_hz).astype(np.intp) + 16]
    drop_db[beyond > below_db - _NOTHING_ABOVE_DB] = 0.0
    best = int(drop_db.argmax())
    if drop_db[best] < _DROP_DB:
        return None
    first = int(_BELOW[0] * edges_hz[best] / step_hz)
    above = np.flatnonzero(smooth_db[first:] > below_db[best] - _EDGE_FALL_DB)
    return float(step_hz * (first + (int(above[-1]) if above.size else 0)))


def find_edge(
    spectra: Sequence[EarlySpectrum], *, take: int, rate_hz: int, bands: Sequence[Band]
) -> list[Fault]:
    """Name a take whose upper bands are empty although its rate would carry them.

    An edge above the bands that are read, as packed music has at 16 to 20 kHz, is none.
    """
    if not spectra:
        return []
    edge_hz = upper_edge_hz(np.mean([one.power for one in spectra], axis=0), step_hz=spectra[0].step_hz)
    if edge_hz is None:
        mirrored = np.mean([one.mirrored for one in spectra[:MIRRORS_OF]], axis=0)
        # What mirrors at half a rate mirrors at its multiples too.
        mirrors = np.flatnonzero(mirrored > _MIRRORS)
        if not mirrors.size:
            return []
        edge_hz = 0.5 * COMMON_RATES_HZ[int(mirrors[0])]
    voice = edge_hz <= VOICE_EDGE_HZ
    struck = [
        column
        for column, band in enumerate(bands)
        if carries(band, sample_rate_hz=rate_hz) and band.high_hz > _INSIDE * edge_hz
    ]
    if not struck:
        return []
    if voice:
        remark = Remark(
            code="voice-band",
            says=f"above {edge_hz:.0f} Hz the take holds no sound of its own, as in a phone call: what is"
            " made for voices draws a decay anew in the other bands too",
            remedy=_REMEDY,
        )
        return [Fault(remark=remark, take=take)]
    lost = ", ".join(f"{bands[column].nominal_hz:g} Hz" for column in struck)
    remark = Remark(
        code="upper-bands-empty",
        says=f"above {edge_hz:.0f} Hz the take holds no sound of its own{_because(edge_hz)}, although"
        f" {rate_hz} samples a second would carry it: what is read at {lost} is not the room's alone",
        remedy=_REMEDY,
    )
    return [Fault(remark=remark, take=take, columns=tuple(struck))]


def _because(edge_hz: float) -> str:
    for rate_hz in COMMON_RATES_HZ:
        if _GUARDS[0] * rate_hz / 2 <= edge_hz <= _GUARDS[1] * rate_hz / 2:
            return f", as if recorded at {rate_hz} samples a second"
    return ", as by a coder that saves on it"
