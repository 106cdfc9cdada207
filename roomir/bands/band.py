"""Frequency bands of IEC 61260-1:2014 with exact base-ten midband frequencies."""

from __future__ import annotations

from dataclasses import dataclass

OCTAVE_RATIO = 10.0**0.3
"""G, the base-ten octave frequency ratio (IEC 61260-1:2014, 5.2)."""

REFERENCE_HZ = 1000.0
"""f_r, the reference frequency (IEC 61260-1:2014, 5.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One fractional-octave band.

    Attributes
    ----------
    nominal_hz : float
        The name of the band, such as 125. [Hz]
    exact_hz : float
        Exact midband frequency ``1000 G^(x/b)``. [Hz]
    fraction : int
        ``b``: 1 for octaves, 3 for third octaves.
    """

    nominal_hz: float
    exact_hz: float
    fraction: int

    @property
    def low_hz(self) -> float:
        """Lower band-edge frequency (IEC 61260-1:2014, 5.5). [Hz]"""
        return self.exact_hz * float(OCTAVE_RATIO ** (-0.5 / self.fraction))

    @property
    def high_hz(self) -> float:
        """Upper band-edge frequency (IEC 61260-1:2014, 5.5). [Hz]"""
        return self.exact_hz * float(OCTAVE_RATIO ** (0.5 / self.fraction))

    @property
    def width_hz(self) -> float:
        """Distance between the band edges, B. [Hz]"""
        return self.high_hz - self.low_hz


def _bands(*, nominal_hz: tuple[float, ...], fraction: int, first_index: int) -> tuple[Band, ...]:
    return tuple(
        Band(
            nominal_hz=nominal,
            exact_hz=REFERENCE_HZ * float(OCTAVE_RATIO ** ((first_index + i) / fraction)),
            fraction=fraction,
        )
        for i, nominal in enumerate(nominal_hz)
    )


OCTAVES: tuple[Band, ...] = _bands(
    nominal_hz=(63, 125, 250, 500, 1000, 2000, 4000, 8000), fraction=1, first_index=-4
)
"""Octave bands 63 Hz to 8 kHz."""

THIRD_OCTAVES: tuple[Band, ...] = _bands(
    nominal_hz=(
        50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630,
        800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000, 10000,
    ),
    fraction=3,
    first_index=-13,
)  # fmt: skip
"""Third-octave bands 50 Hz to 10 kHz."""

BAND_SETS: dict[str, tuple[Band, ...]] = {"octave": OCTAVES, "third-octave": THIRD_OCTAVES}
"""The sets of bands that a reading can be made in, by name."""


HIGHEST_SHARE = 0.48
"""Part of the sampling rate up to which a band may reach. What lies between it and half the
rate is the recorder's own low-pass filter."""


def carries(band: Band, *, sample_rate_hz: float) -> bool:
    """Whether a recording of this rate holds all of the band."""
    return band.high_hz <= HIGHEST_SHARE * sample_rate_hz
