"""Coders that do not keep the sound, told by the name of the codec."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.audio.recording import Recording
from roomir.faults.fault import Fault
from roomir.remarks import Remark

VOICE_CODECS = frozenset({"AMR_NB", "AMR_WB", "GSM", "GSM_MS", "GSM610"})
"""Coders that draw speech anew from a model of the voice."""


def find_voice_coders(recordings: Sequence[Recording]) -> list[Fault]:
    """Name the takes that were packed by a coder made for voices.

    It draws a decay anew out of noise that it shapes every 20 ms, so that no
    interval knows by how much the decay time is off.
    """
    return [
        Fault(
            remark=Remark(
                code="speech-codec",
                says="the sound is packed by a coder for voices, which draws a decay anew",
                remedy="record with an app that writes WAV, FLAC or M4A; intervals don't know of this",
            ),
            take=take,
        )
        for take, recording in enumerate(recordings)
        if recording.codec in VOICE_CODECS
    ]
