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
