"""What to do before the first take, and after it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from roomir.api.opening import Progress, open_all
from roomir.api.rooms import volume_of_m3
from roomir.audio.files import AnyPath
from roomir.reading.reading import Reading

if TYPE_CHECKING:
    from roomir.audio.recording import Recording
    from roomir.background.noise import Background
    from roomir.report.guide import Guide
    from roomir.report.suggestions import Advice


def advise(
    paths: AnyPath | Iterable[AnyPath],
    *,
    channel: int | None = None,
    progress: Progress | None = None,
) -> Advice:
    """Read recordings, listen to the background between their claps, and say what to do next.

    Parameters
    ----------
    paths, channel, progress
        As for :func:`read`.

    Returns
    -------
    Advice
        Steps, what buys most first, with the reading they rest on.

    Raises
    ------
    ParameterError
        As for :func:`read`.
    """
    from roomir.reading.take import take_reading
    from roomir.report.suggestions import make_advice

    opened, failures = open_all(paths, channel=channel, bands="octave", progress=progress)
    reading = take_reading([one.watched("listening") for one in opened], failures=failures)
    return make_advice(reading, background=_background(reading, [one.recording for one in opened]))


def guide(*, volume_m3: float | None = None, dimensions_m: tuple[float, float, float] | None = None) -> Guide:
    """Give the guide for the first take.

    Parameters
    ----------
    volume_m3 : float, optional
        Volume, to say how far from the phone to clap. [m3]
    dimensions_m : (float, float, float), optional
        Length, width and height instead, to name places on the floor as well. [m]

    Returns
    -------
    Guide
        Sections with their lines.

    Raises
    ------
    ParameterError
        If both sizes are given, or one is not positive.
    """
    from roomir.report.guide import make_guide
    from roomir.rooms.places import places

    if volume_m3 is not None or dimensions_m is not None:
        volume_m3 = volume_of_m3(volume_m3=volume_m3, dimensions_m=dimensions_m)
    return make_guide(volume_m3=volume_m3, floor=None if dimensions_m is None else places(dimensions_m))


def _background(reading: Reading, recordings: Sequence[Recording]) -> Background | None:
    from roomir.background.noise import hear_background, joint_background, quiet_stretches
    from roomir.report.next_take import settle_s

    heard = []
    for take, recording in zip(reading.takes, recordings, strict=True):
        onsets_s = [clap.onset_s for clap in take.claps]
        stretches = quiet_stretches(recording.sound, onsets_s=onsets_s, settle_s=settle_s(reading))
        background = hear_background(recording.sound, stretches=stretches)
        if background is not None:
            heard.append(background)
    return joint_background(heard)
