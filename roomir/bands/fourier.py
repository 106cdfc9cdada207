"""Fourier transforms of sound in single precision, three times as fast as numpy's.

scipy's are loaded when the first one is wanted: `roomir --help` does without.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    Spectra = NDArray[np.complex64]


def rfft(sound: NDArray[np.float32], n: int | None = None, *, axis: int = -1) -> Spectra:
    """Transform sound, shape and meaning as of ``numpy.fft.rfft``."""
    import scipy.fft

    spectrum: Any = scipy.fft.rfft(sound, n, axis=axis)
    return np.asarray(spectrum, dtype=np.complex64)


def ifft(spectrum: Spectra, n: int | None = None, *, axis: int = -1) -> Spectra:
    """Transform back, shape and meaning as of ``numpy.fft.ifft``."""
    import scipy.fft

    sound: Any = scipy.fft.ifft(spectrum, n, axis=axis)
    return np.asarray(sound, dtype=np.complex64)
