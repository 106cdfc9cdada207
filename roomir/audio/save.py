"""Writing a sound as a file that every player opens."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray


def wav_bytes(samples: NDArray[np.float64], *, sample_rate_hz: int, bits: int = 24) -> bytes:
    """Make the bytes of a WAV file.

    Parameters
    ----------
    samples : array, shape (n,)
        Full scale = 1.
    sample_rate_hz : int
        Frames per second. [Hz]
    bits : int, default 24
        Of each sample: 24, or 16 where the file has to be small.

    Returns
    -------
    bytes
        The whole file.
    """
    import soundfile

    out = io.BytesIO()
    soundfile.write(out, samples, sample_rate_hz, format="WAV", subtype=f"PCM_{bits}")
    return out.getvalue()
