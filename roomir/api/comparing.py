"""One state of a room against another, and against what is aimed for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.api.opening import Source, recordings_of
from roomir.audio.files import display_name
from roomir.errors import ParameterError
from roomir.reading.reading import Reading
from roomir.report.saving import FilePath, write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from roomir.compare.aim import Aim
    from roomir.compare.change import Climate, Comparison
    from roomir.compare.hear import Audition
    from roomir.compare.near_far import NearFar


def compare_readings(
    before: Reading,
    after: Reading,
    *,
    paired: bool = False,
    volume_m3: float | None = None,
    dimensions_m: tuple[float, float, float] | None = None,
    positions: tuple[Sequence[str | None], Sequence[str | None]] | None = None,
    climates: tuple[Climate, Climate] | None = None,
    made_with: tuple[Sequence[str], Sequence[str]] = ((), ()),
) -> Comparison:
    """Set a room in one state against the same room in another.

    Parameters
    ----------
    before, after : Reading
        Readings of recordings.
    paired : bool
        Whether to compare position by position: files whose names differ
        from their neighbours' in the same words (``spot1``, ``spot2``) are of
        the same position on both sides.
    volume_m3 : float, optional
        Volume, for the absorption that was added. [m3]
    dimensions_m : (float, float, float), optional
        Length, width and height instead. [m]
    positions : (sequence of str or None, sequence of str or None), optional
        Name of the position of every take, where it is known apart from the
        names of the files; those of the same name are compared one by one.
    climates : (Climate, Climate), optional
        Air before and after.
    made_with : (sequence of str, sequence of str)
        What made the sound before and after, as far as it is known.

    Returns
    -------
    Comparison
        A change for every band, the headline, and what limits them.

    Raises
    ------
    ParameterError
        If both sizes are given, or one is not positive.
    """
    from roomir.compare import compare as pure
    from roomir.compare.change import Climate
    from roomir.compare.positions import names_from_files

    if dimensions_m is not None:
        if volume_m3 is not None:
            raise ParameterError(
                "a room has one size: its volume or its dimensions",
                code="bad-room-size",
                remedy="give one of the two",
            )
        volume_m3 = math.prod(dimensions_m)
    if paired and positions is None:
        names_before, names_after = (
            names_from_files([Path(take.path).stem for take in one.takes]) for one in (before, after)
        )
        positions = names_before, names_after
    return pure.compare_readings(
        before,
        after,
        positions=positions,
        volume_m3=volume_m3,
        climates=climates or (Climate(), Climate()),
        made_with=made_with,
    )


def hear(
    comparison: Comparison, *, before: Iterable[Source], after: Iterable[Source], path: FilePath
) -> Audition:
    """Write the same passage before and after to a WAV file, one after the other and equally loud.

    Parameters
    ----------
    comparison : Comparison
        What was read from the recordings.
    before, after : iterable of Source
        The recordings, those without a clap included: chords may be on them.
    path : path
        Must not exist.

    Returns
    -------
    Audition
        What was written.

    Raises
    ------
    RoomirError
        ``nothing-to-hear`` where the sides have nothing in common, or the file cannot be written.
    """
    from roomir.audio.save import wav_bytes
    from roomir.compare.hear import audition

    if Path(path).exists():
        raise ParameterError(
            f"{display_name(path)} exists and will not be overwritten",
            code="exists-already",
            remedy="name a new file that ends in .wav",
        )
    recordings = recordings_of(before), recordings_of(after)
    made = audition(comparison.before, comparison.after, recordings=recordings)
    write_whole(Path(path), wav_bytes(made.samples, sample_rate_hz=made.sample_rate_hz))
    return made


def near_far(
    near: Reading,
    far: Reading,
    *,
    near_paths: Iterable[Source],
    far_paths: Iterable[Source],
    near_m: float,
    far_m: float,
    volume_m3: float | None = None,
) -> NearFar:
    """Compare the level of one source near and far with what the decay time of the room says.

    Parameters
    ----------
    near, far : Reading
        What was read from the takes.
    near_paths, far_paths : iterable of Source
        The takes, all recorded at one gain.
    near_m, far_m : float
        Distances from source to microphone. [m]
    volume_m3 : float, optional
        Volume of the room; without it nothing can be predicted. [m3]

    Returns
    -------
    NearFar
        The fall of the level, what was expected, and how they agree.

    Raises
    ------
    ParameterError
        If the distances are not positive, or near is not nearer.
    """
    from roomir.compare.near_far import compare_near_far

    return compare_near_far(
        recordings_of(near_paths),
        recordings_of(far_paths),
        readings=(near, far),
        near_m=near_m,
        far_m=far_m,
        volume_m3=volume_m3,
    )


def draw_comparison(comparison: Comparison, *, units: str = "metric") -> Figure:
    """Draw a comparison: the headline, both decay times, and the change in every band.

    Parameters
    ----------
    comparison : Comparison
        With bands, or with none in common.
    units : str
        ``"metric"`` or ``"us"``.

    Returns
    -------
    matplotlib.figure.Figure
        Not shown and not saved.
    """
    from roomir.report.figures.changes import comparison_figure
    from roomir.report.unit_system import UNIT_SYSTEMS

    return comparison_figure(comparison, units=UNIT_SYSTEMS[units])


def aim(reading: Reading, *, target: str, volume_m3: float | None = None) -> Aim:
    """Hold a reading against a decay time to aim for.

    Parameters
    ----------
    reading : Reading
        The room as it is.
    target : str
        A name that ``roomir targets`` lists, seconds as in ``0.2-0.3``, or a TOML file.
    volume_m3 : float, optional
        Volume of the room, which some targets need. [m3]

    Returns
    -------
    Aim
        Inside, too long, too short or undecided for every band that the target speaks of.

    Raises
    ------
    ParameterError
        If there is no such target, or it needs the volume.

    Examples
    --------
    >>> from roomir.api import read
    >>> [one.verdict for one in aim(read("no-such-take.wav"), target="voice booth").bands]
    []
    """
    from roomir.compare.aim import aim_at
    from roomir.rooms.targets import find_target

    return aim_at(find_target(target), reading, volume_m3=volume_m3)


def check_target(target: str, *, volume_m3: float | None = None) -> None:
    """Refuse a target that there is none of, before anything is read for it.

    Raises
    ------
    ParameterError
        As :func:`aim` does.
    """
    from roomir.rooms.targets import find_target

    find_target(target).time_s(volume_m3=volume_m3)
