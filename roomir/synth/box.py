"""A box room and the response it gives: image sources, octave by octave.

The room is a box whose six surfaces each absorb a fraction of the energy per
octave. Early on every image of the source is placed (Allen and Berkley,
"Image method for efficiently simulating small-room acoustics", J. Acoust.
Soc. Am. 65 (1979) 943-950); from a mixing time on, the response may be
carried on by noise with a stated decay time per octave, because a bare box
with unequal walls rings between its hard pairs in a way that no furnished
room does, and because the number of images grows with the cube of time.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError

Octaves = tuple[float, float, float, float, float, float, float, float]
"""One figure per octave band, 63 Hz to 8 kHz."""

_OVERSAMPLING = 4
"""Images are placed on a grid this much finer than the output: their arrival is right to 1/8 sample."""

_HIGH_PASS_HZ = 25.0
"""Pressure reflections all have the same sign, so the images pile up at 0 Hz; the room does not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRoom:
    """A box with one absorption coefficient per surface and octave.

    The floor's corner at the west and south walls is the origin; x runs east
    along ``length_m``, y north along ``width_m``, z up.

    Attributes
    ----------
    length_m, width_m, height_m : float
        Inner dimensions. [m]
    west, east, south, north, floor, ceiling : Octaves
        Random-incidence absorption coefficients, 63 Hz to 8 kHz, at least 0
        and below 1. A surface in patches has the mean weighted by area.

    Raises
    ------
    ParameterError
        For a dimension that is not positive or a coefficient outside [0, 1).
    """

    length_m: float
    width_m: float
    height_m: float
    west: Octaves
    east: Octaves
    south: Octaves
    north: Octaves
    floor: Octaves
    ceiling: Octaves

    def __post_init__(self) -> None:
        for one in fields(self)[:3]:
            size_m = getattr(self, one.name)
            if not (np.isfinite(size_m) and size_m > 0.0):
                raise ParameterError(
                    f"{one.name} is {size_m:g}; a box needs a positive size", code="bad-room-size"
                )
        if not bool(np.all((self.absorption >= 0.0) & (self.absorption < 1.0))):
            raise ParameterError(
                "absorption coefficients lie from 0 up to, but not including, 1",
                code="bad-absorption",
                remedy="cap laboratory figures above 0.99 before using them",
            )

    @property
    def size_m(self) -> tuple[float, float, float]:
        """Length, width and height [m]."""
        return (self.length_m, self.width_m, self.height_m)

    @property
    def absorption(self) -> NDArray[np.float64]:
        """Coefficients, shape (6, 8): west, east, south, north, floor, ceiling by octave."""
        surfaces = (self.west, self.east, self.south, self.north, self.floor, self.ceiling)
        if any(len(surface) != len(OCTAVES) for surface in surfaces):
            raise ParameterError(
                "each surface takes eight coefficients, 63 Hz to 8 kHz", code="bad-absorption"
            )
        return np.array(surfaces, dtype=np.float64)

    @property
    def areas_m2(self) -> NDArray[np.float64]:
        """Areas of the surfaces, shape (6,), in the order of ``absorption`` [m2]."""
        ends = self.width_m * self.height_m
        sides = self.length_m * self.height_m
        flats = self.length_m * self.width_m
        return np.array([ends, ends, sides, sides, flats, flats])

    @property
    def volume_m3(self) -> float:
        """Volume [m3]."""
        return self.length_m * self.width_m * self.height_m

    @property
    def surface_m2(self) -> float:
        """Area of all six surfaces [m2]."""
        return float(self.areas_m2.sum())

    @property
    def mean_absorption(self) -> NDArray[np.float64]:
        """Mean coefficient weighted by area, shape (8,)."""
        return np.asarray(self.areas_m2 @ self.absorption / self.surface_m2)


@dataclass(frozen=True, slots=True, kw_only=True)
class DiffuseTail:
    """How a response goes on once the images are left behind.

    Attributes
    ----------
    from_s, full_s : float
        Images fade out and noise fades in between these times from the
        emission of the sound. [s]
    decay_time_s : Octaves
        Decay time of the noise per octave, such as Norris and Eyring's. [s]
    """

    from_s: float
    full_s: float
    decay_time_s: Octaves


def box_response(
    room: BoxRoom,
    *,
    source_m: tuple[float, float, float],
    microphone_m: tuple[float, float, float],
    sample_rate_hz: int,
    duration_s: float,
    sound_speed_m_per_s: float,
    rng: np.random.Generator,
    jitter_m: float = 0.04,
    air_db_per_m: Octaves | None = None,
    tail: DiffuseTail | None = None,
) -> NDArray[np.float64]:
    r"""Simulate what a microphone in a box room hears of one unit impulse.

    Parameters
    ----------
    room : BoxRoom
        Dimensions and absorption.
    source_m, microphone_m : (float, float, float)
        Positions inside the room, at least 1 cm apart. [m]
    sample_rate_hz : int
        Rate of the response. [Hz]
    duration_s : float
        Length of the response, from the emission of the sound. [s]
    sound_speed_m_per_s : float
        Speed of sound. [m/s]
    rng : numpy.random.Generator
        Source of the jitter and of the tail's noise.
    jitter_m : float, default 0.04
        Largest change of each image's distance, drawn evenly from both
        directions; the direct sound stays exact. [m]
    air_db_per_m : Octaves, optional
        Attenuation by the air (ISO 9613-1); none if left out. [dB/m]
    tail : DiffuseTail, optional
        Where and how noise takes over; left out, all is images.

    Returns
    -------
    numpy.ndarray, shape (n_frames,)
        Sound pressure; the direct sound alone would be 1/r after r/c seconds.

    Raises
    ------
    ParameterError
        For positions outside the room or in the same place, or a tail that
        does not end after it begins.

    Notes
    -----
    Each image at distance r, seen through surfaces that it crosses n_i times,
    contributes per octave

    .. math:: p = \frac{1}{r} \prod_i (1 - \alpha_i)^{n_i / 2}\; 10^{-a r / 20}

    The eight octave trains are shaped by a bank of crossfades that sums to
    one, so equal trains give back the bare impulse.

    The tail is one sequence of white noise, shared by the octaves so that
    their sum stays flat at the crossfades, with an exponential envelope per
    octave. Its level is set so that over the crossfade its energy equals that
    of the images it replaces, so no step shows in the decay.
    """
    place, ear = np.array(source_m, dtype=np.float64), np.array(microphone_m, dtype=np.float64)
    _check_positions(room, place=place, ear=ear)
    if tail is not None and not 0.0 <= tail.from_s < tail.full_s:
        raise ParameterError("a tail has to begin before it is complete", code="bad-tail")

    fine_rate_hz = sample_rate_hz * _OVERSAMPLING
    n_frames = round(duration_s * sample_rate_hz)
    n_fine = n_frames * _OVERSAMPLING
    last_image_s = duration_s if tail is None else min(tail.full_s, duration_s)
    trains = _image_trains(
        room,
        place=place,
        ear=ear,
        reach_m=last_image_s * sound_speed_m_per_s,
        fine_per_m=fine_rate_hz / sound_speed_m_per_s,
        n_fine=n_fine,
        jitter_m=jitter_m,
        air_db_per_m=np.zeros(len(OCTAVES)) if air_db_per_m is None else np.array(air_db_per_m),
        rng=rng,
    )
    if tail is not None:
        _carry_on(trains, tail=tail, fine_rate_hz=fine_rate_hz, rng=rng)
    return _shape_and_sum(trains, sample_rate_hz=sample_rate_hz, n_frames=n_frames)


def octave_crossfades(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Weights of the eight octaves at given frequencies; they sum to one everywhere.

    Each weight is one at its exact midband frequency and falls as a raised
    cosine in log frequency to zero at the neighbours'; the outer two hold on
    to 0 Hz and to the top. Zero phase.

    Parameters
    ----------
    frequency_hz : numpy.ndarray, shape (n,)
        Frequencies from 0 up. [Hz]

    Returns
    -------
    numpy.ndarray, shape (8, n)
    """
    centres = np.log2([band.exact_hz for band in OCTAVES])
    at = np.log2(np.maximum(frequency_hz, 1e-3))
    # How far past each centre on the way to the next one: 0 to 1.
    past = np.clip((at - centres[:-1, np.newaxis]) / np.diff(centres)[:, np.newaxis], 0.0, 1.0)
    rise = np.sin(0.5 * np.pi * past) ** 2
    above = np.vstack([np.ones_like(at), rise])
    below = np.vstack([rise, np.zeros_like(at)])
    return np.asarray(above - below, dtype=np.float64)


def _check_positions(room: BoxRoom, *, place: NDArray[np.float64], ear: NDArray[np.float64]) -> None:
    size_m = np.array(room.size_m)
    for what, point in (("source", place), ("microphone", ear)):
        if not bool(np.all((point > 0.0) & (point < size_m))):
            raise ParameterError(
                f"the {what} at {tuple(map(float, point))} m is outside the room", code="outside-room"
            )
    if float(np.linalg.norm(place - ear)) < 0.01:
        raise ParameterError("source and microphone are in the same place", code="same-place")


def _images_along(
    *, size_m: float, place_m: float, ear_m: float, keep: NDArray[np.float64], reach_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], int]:
    """Images on one axis: offsets from the ear, pressure factors (n, 8), index of the source itself.

    ``keep`` holds the pressure reflection factors of the near and the far wall, shape (2, 8).
    """
    n = np.arange(-int(reach_m / (2.0 * size_m)) - 1, int(reach_m / (2.0 * size_m)) + 2)
    offsets, factors = [], []
    for mirrored in (0, 1):
        offsets.append((1 - 2 * mirrored) * place_m + 2.0 * n * size_m - ear_m)
        near, far = np.abs(n - mirrored)[:, np.newaxis], np.abs(n)[:, np.newaxis]
        factors.append(keep[0] ** near * keep[1] ** far)
    return np.concatenate(offsets), np.concatenate(factors), int(np.flatnonzero(n == 0)[0])


def _image_trains(
    room: BoxRoom,
    *,
    place: NDArray[np.float64],
    ear: NDArray[np.float64],
    reach_m: float,
    fine_per_m: float,
    n_fine: int,
    jitter_m: float,
    air_db_per_m: NDArray[np.float64],
    rng: np.random.Generator,
) -> NDArray[np.float64]:
    """Sum of all images per octave as impulses on the fine grid, shape (8, n_fine)."""
    keep = np.sqrt(1.0 - room.absorption).reshape(3, 2, len(OCTAVES))
    (x, factor_x, own_x), (y, factor_y, own_y), (z, factor_z, own_z) = (
        _images_along(
            size_m=room.size_m[axis],
            place_m=float(place[axis]),
            ear_m=float(ear[axis]),
            keep=keep[axis],
            reach_m=reach_m,
        )
        for axis in range(3)
    )
    # Sorted by distance in the y-z plane, so that the images within reach of one x are a leading slice.
    plane_m2 = (y[:, np.newaxis] ** 2 + z[np.newaxis, :] ** 2).ravel()
    order = np.argsort(plane_m2)
    plane_m2 = plane_m2[order]
    factor_plane = (factor_y[:, np.newaxis, :] * factor_z[np.newaxis, :, :]).reshape(-1, len(OCTAVES))
    factor_plane = np.ascontiguousarray(factor_plane[order].T)
    own_plane = int(np.flatnonzero(order == own_y * z.size + own_z)[0])

    trains = np.zeros((len(OCTAVES), n_fine))
    for i, x_m in enumerate(x):
        within = int(np.searchsorted(plane_m2, reach_m**2 - x_m**2))
        if within == 0:
            continue
        r = np.sqrt(x_m**2 + plane_m2[:within])
        # The images of a perfect box line up and are heard as sweeping echoes; no built room is that
        # regular. Moving each a little takes them away (De Sena, Antonello, Moonen and van Waterschoot,
        # "On the modeling of rectangular geometries in room acoustic simulations", IEEE/ACM Trans.
        # Audio Speech Lang. Process. 23 (2015) 774-786).
        shift = rng.uniform(-jitter_m, jitter_m, within)
        if i == own_x and own_plane < within:
            shift[own_plane] = 0.0
        at = np.rint((r + shift) * fine_per_m).astype(np.intp)
        in_time = (at >= 0) & (at < n_fine)
        at, r = at[in_time], r[in_time]
        for octave in range(len(OCTAVES)):
            p = factor_plane[octave, :within][in_time] * (factor_x[i, octave] / r)
            if air_db_per_m[octave] > 0.0:
                p *= 10.0 ** (-air_db_per_m[octave] * r / 20.0)
            trains[octave] += np.bincount(at, weights=p, minlength=n_fine)
    return trains


def _carry_on(
    trains: NDArray[np.float64], *, tail: DiffuseTail, fine_rate_hz: int, rng: np.random.Generator
) -> None:
    """Fade the images out and a decaying noise of the same energy in, in place."""
    n_fine = trains.shape[1]
    time_s = np.arange(n_fine) / fine_rate_hz
    begin, end = (min(round(t * fine_rate_hz), n_fine) for t in (tail.from_s, tail.full_s))
    noise = rng.standard_normal(n_fine)
    # Cosine and sine, because unrelated sounds add by energy.
    angle = 0.5 * np.pi * np.clip((time_s - tail.from_s) / (tail.full_s - tail.from_s), 0.0, 1.0)
    fade_in, fade_out = np.sin(angle), np.cos(angle)
    for octave, decay_time_s in enumerate(tail.decay_time_s):
        envelope = 10.0 ** (-3.0 * time_s / decay_time_s)
        images = float(np.sum(trains[octave, begin:end] ** 2))
        level = np.sqrt(images / np.sum(envelope[begin:end] ** 2)) if end > begin else 0.0
        trains[octave] *= fade_out
        trains[octave] += level * envelope * noise * fade_in


def _shape_and_sum(trains: NDArray[np.float64], *, sample_rate_hz: int, n_frames: int) -> NDArray[np.float64]:
    """Weight each octave's train, add them up, come down to the output rate."""
    import scipy.fft
    import scipy.signal

    # Room after the end, so that the zero-phase crossfades do not wrap around into the direct sound.
    n_padded = scipy.fft.next_fast_len(n_frames + sample_rate_hz // 4, real=True)
    frequency_hz = np.arange(n_padded // 2 + 1, dtype=np.float64) * (sample_rate_hz / n_padded)
    weights = octave_crossfades(frequency_hz)
    spectrum = np.zeros(frequency_hz.size, dtype=np.complex128)
    for train, weight in zip(trains, weights, strict=True):
        spectrum += weight * scipy.fft.rfft(train, n_padded * _OVERSAMPLING)[: frequency_hz.size]
    # A soft edge below half the sample rate keeps each impulse short.
    top = np.clip((frequency_hz / (sample_rate_hz / 2.0) - 0.9) / 0.1, 0.0, 1.0)
    spectrum *= np.cos(0.5 * np.pi * top) ** 2
    response = scipy.fft.irfft(spectrum, n_padded)[:n_frames]
    high_pass = scipy.signal.butter(2, _HIGH_PASS_HZ, btype="highpass", fs=sample_rate_hz, output="sos")
    return np.asarray(scipy.signal.sosfilt(high_pass, response), dtype=np.float64)
