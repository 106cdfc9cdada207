"""A dry sound in a room as it is, and as proposed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.errors import ParameterError, RoomirError
from roomir.planning.learning import told
from roomir.planning.treatment import treat_room
from roomir.report.saving import FilePath, write_whole

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    import numpy as np
    from numpy.typing import NDArray

    from roomir.plan.audition import RoomResponse
    from roomir.plan.model import Expected
    from roomir.plan.propose import Proposal

    Floats = NDArray[np.float64]

LONGEST_DRY_S = 120.0
"""Longest sound to put into a room. [s]"""

_BETWEEN_S = 0.6
"""Silence between two parts. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What was written by :func:`hear`.

    Attributes
    ----------
    path : str
        The file.
    parts : tuple of str
        What is to be heard in it, in this order.
    loudness_lufs : float
        Loudness of every part (Rec. ITU-R BS.1770). [LUFS]
    distance_m, directivity : float
        From source to microphone, and of the source towards it. [m, 1]
    seed : int
        Of the noise in the responses.
    responses : tuple of RoomResponse
        Of every part that is in a room.
    proposal : Proposal or None
        What was proposed.
    """

    path: str
    parts: tuple[str, ...]
    loudness_lufs: float
    distance_m: float
    directivity: float
    seed: int
    responses: tuple[RoomResponse, ...]
    proposal: Proposal | None


def hear(
    room: FilePath,
    path: FilePath,
    *,
    dry: FilePath | None = None,
    target: str | None = None,
    absorbers: Sequence[str] = (),
    distance_m: float = 2.0,
    directivity: float = 2.0,
    seed: int = 1,
    materials: FilePath | None = None,
    logbook: FilePath | None = None,
    stage: str | None = None,
    learn_from: Sequence[FilePath] = (),
) -> Heard:
    """Write how a dry sound is heard in a room as it is, and as proposed.

    Parameters
    ----------
    room, materials, logbook, stage : path
        As for :func:`roomir.planning.load_room`.
    learn_from : sequence of path
        Readings of this room, as for :func:`roomir.planning.learning.knowledge_from`.
    path : path
        A WAV file that does not exist yet.
    dry : path, optional
        A sound without a room; the voice of the sample data if left out.
    target : str, optional
        Also propose a treatment for this target, and let it be heard.
    absorbers : sequence of str
        Materials to choose from.
    distance_m, directivity : float
        From source to microphone [m], and the source's factor Q towards it.
    seed : int
        Of the noise in the responses.

    Returns
    -------
    Heard
        The dry sound, the room as it is and as proposed, equally loud.

    Raises
    ------
    RoomirError
        If the room, the sound or the target is wrong, or the file cannot be written.
    """
    import numpy as np

    from roomir.audio.save import wav_bytes
    from roomir.plan.audition import in_room, make_response
    from roomir.plan.model import expect
    from roomir.rooms.statistics import sound_speed_m_per_s

    _check_new_wav(Path(path))
    named = told(room, materials=materials, logbook=logbook, stage=stage, learn_from=learn_from)
    described, known = named.room, named.knowledge
    sound, rate = dry_sound(dry)
    states, proposal = [("the room as it is", expect(described, known))], None
    if target is not None:
        proposal = treat_room(described, named.table, knowledge=known, target=target, absorbers=absorbers)
        states.append((f"as proposed for {proposal.window.name}", proposal.then.expected))
    responses = [
        make_response(
            all_octaves_s(expected),
            volume_m3=described.volume_m3,
            distance_m=distance_m,
            directivity=directivity,
            sound_speed=sound_speed_m_per_s(temperature_c=described.temperature_c),
            sample_rate_hz=rate,
            seed=seed,
        )
        for _, expected in states
    ]
    parts = [sound, *(in_room(sound, response) for response in responses)]
    matched, loudness_lufs = equally_loud(parts, rate_hz=rate)
    silence = np.zeros(round(_BETWEEN_S * rate))
    joined = [piece for part in matched for piece in (part, silence)][:-1]
    write_whole(Path(path), wav_bytes(np.concatenate(joined), sample_rate_hz=rate))
    return Heard(
        path=str(path),
        parts=("dry", *(name for name, _ in states)),
        loudness_lufs=loudness_lufs,
        distance_m=distance_m,
        directivity=directivity,
        seed=seed,
        responses=tuple(responses),
        proposal=proposal,
    )


def _check_new_wav(path: Path) -> None:
    if path.suffix.lower() != ".wav":
        raise ParameterError(
            f"{path} does not end in .wav", code="no-such-figure-format", remedy="let its name end in .wav"
        )
    if path.exists():
        raise ParameterError(
            f"{path} exists and will not be overwritten", code="exists-already", remedy="name a new file"
        )


def sample_voice() -> Path:
    """Return where the dry voice lies that comes with the source; an installed package has none there."""
    return Path(__file__).parent.parent.parent / "sample_data" / "dry_voice.flac"


def dry_sound(dry: FilePath | None) -> tuple[Floats, int]:
    """Open a dry sound as one channel.

    Parameters
    ----------
    dry : path or None
        The file; the voice of the sample data without one.

    Returns
    -------
    (array, int)
        Samples, and how many in a second. [1, Hz]

    Raises
    ------
    RoomirError
        If it is no sound, or lasts longer than `LONGEST_DRY_S`.
    """
    import numpy as np

    from roomir.audio.load import open_recording

    path = sample_voice() if dry is None else Path(dry)
    if dry is None and not path.exists():
        raise RoomirError(
            "the dry voice comes with the source, not with the installed package",
            code="no-sample-data",
            remedy="give a dry recording of your own with --dry",
        )
    sound = open_recording(path, channel=None).sound
    if sound.n_frames > LONGEST_DRY_S * sound.sample_rate_hz:
        raise RoomirError(
            f"{path} lasts longer than {LONGEST_DRY_S:g} s",
            code="too-long-to-hear",
            remedy="cut out the half minute that tells most",
        )
    samples = sound.stretch(start=0, stop=sound.n_frames).astype(np.float64).mean(axis=1)
    return samples, sound.sample_rate_hz


def all_octaves_s(expected: Expected) -> list[float]:
    """Decay times for all eight octaves: the outer ones take their neighbour's where nobody knows."""
    known = dict(zip(expected.octaves, map(float, expected.decay_time_s), strict=True))
    lowest, highest = min(known), max(known)
    return [known.get(i, known[lowest] if i < lowest else known[highest]) for i in range(8)]


def equally_loud(parts: Sequence[Floats], *, rate_hz: int) -> tuple[list[Floats], float]:
    """Bring sounds to one loudness (Rec. ITU-R BS.1770), as loud as fits; the second is that. [LUFS].

    Raises
    ------
    RoomirError
        ``nothing-to-hear`` if one is too short or too faint.
    """
    import numpy as np
    from pyloudnorm import Meter

    meter = Meter(rate_hz)
    try:
        loudness = [float(meter.integrated_loudness(part)) for part in parts]
    except ValueError as error:
        raise RoomirError(
            "the dry sound is too short for a loudness",
            code="nothing-to-hear",
            remedy="take one of some seconds",
        ) from error
    if not all(np.isfinite(loudness)):
        raise RoomirError(
            "the dry sound is too faint for a loudness", code="nothing-to-hear", remedy="take a louder one"
        )
    matched = [part * 10.0 ** (-one / 20.0) for part, one in zip(parts, loudness, strict=True)]
    common = 0.89 / max(float(np.abs(part).max()) for part in matched)
    return [part * common for part in matched], float(20.0 * np.log10(common))


def heard_json(heard: Heard) -> str:
    """Write what was heard as the document ``roomir/heard/1``."""
    from roomir.bands.band import OCTAVES
    from roomir.report.planning.tables import dumped, number, numbers

    return dumped(
        {
            "schema": "roomir/heard/1",
            "path": heard.path,
            "parts": list(heard.parts),
            "loudness_lufs": number(heard.loudness_lufs),
            "distance_m": number(heard.distance_m),
            "directivity": number(heard.directivity),
            "seed": heard.seed,
            "octaves_hz": [band.nominal_hz for band in OCTAVES],
            "responses": [
                {"asked_s": numbers(response.asked_s), "read_s": numbers(response.read_s)}
                for response in heard.responses
            ],
        }
    )
