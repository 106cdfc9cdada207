"""The one module that opens sound files: ``open_recording``."""

from __future__ import annotations

import os
from typing import BinaryIO

from roomir.audio.dates import when_recorded
from roomir.audio.files import AnyPath, cannot_read, display_name, open_regular, sha256_of
from roomir.audio.foreign import Decoding
from roomir.audio.layout import read_layout
from roomir.audio.long_sound import OneChannel
from roomir.audio.native import open_here
from roomir.audio.opened import Opened, check_format
from roomir.audio.recording import Recording, Sound, SoundInMemory
from roomir.audio.survey import survey
from roomir.audio.watched import TellPart, Watched
from roomir.errors import NothingRecordedError, ParameterError


def open_recording(path: AnyPath, *, channel: int | None = None, tell: TellPart | None = None) -> Recording:
    """Open a sound file of any common kind as it is: own rate, own channels, full scale = 1.

    The content decides what it is, never the suffix. A short take lies in
    memory, a long one stays on disk. Where the file says by how much its
    coder delayed the sound, that stretch is dropped; nothing else is changed.
    Places that phones write into their files are neither read nor kept.

    Parameters
    ----------
    path : str, bytes or path
        The file.
    channel : int, optional
        Take this channel only, counted from 1.
    tell : callable, optional
        Told how far the work has come, from 0 to 1, in each pass through the file.

    Returns
    -------
    Recording
        The sound, with name, hash, date, container and codec, and notes on
        what the opener saw.

    Raises
    ------
    UnreadableAudioError
        No such file, no permission, damaged, or no sound at all.
    NothingRecordedError
        Empty, silent, or shorter than any decay.
    ParameterError
        ``no-such-channel``.
    """
    name = display_name(path)
    if channel is not None and channel < 1:
        raise ParameterError(
            f"{name}: channel {channel} is asked for, but channels are counted from 1",
            code="no-such-channel",
            remedy="use 1 for the first (left) and 2 for the second (right) channel",
        )
    try:
        with open_regular(path, name=name) as file:
            status = os.fstat(file.fileno())
            if status.st_size == 0:
                raise NothingRecordedError(
                    f"{name}: the file is empty (0 bytes)",
                    code="file-empty",
                    remedy="copy it from the recorder again; if it is empty there, record again",
                )
            opened, sha256 = _open(file, path, name=name, tell=tell)
            sound = opened.sound if channel is None else _pick(opened.sound, channel=channel, name=name)
            remarks = survey(sound if tell is None else Watched(sound, tell=tell), name=name)
    except OSError as error:
        raise cannot_read(error, name=name) from error
    recorded_at, recorded_at_from = when_recorded(opened.dates, modified_at_s=status.st_mtime)
    return Recording(
        sound=sound,
        source_name=name,
        source_sha256=sha256,
        recorded_at=recorded_at,
        recorded_at_from=recorded_at_from,
        container=opened.container,
        codec=opened.codec,
        notes=(*opened.notes, *remarks),
    )


def _open(file: BinaryIO, path: AnyPath, *, name: str, tell: TellPart | None) -> tuple[Opened, str]:
    layout = read_layout(file)
    if layout.announced_format is not None:
        n_channels, sample_rate_hz = layout.announced_format
        check_format(name=name, sample_rate_hz=sample_rate_hz, n_channels=n_channels)
    why_not_here = ""
    if layout.plain and not layout.never_closed:
        sha256 = sha256_of(file)
        opened = open_here(file, layout, name=name)
        if isinstance(opened, Opened):
            return opened, sha256
        why_not_here = opened
    # Opened again, because the decoder moves the position of what it is given.
    with (
        open_regular(path, name=name) as apart,
        Decoding(apart, layout, name=name, why_not_here=why_not_here) as decoding,
    ):
        sha256 = sha256_of(file)  # while the decoder is at work
        return decoding.result(tell=tell), sha256


def _pick(sound: Sound, *, channel: int, name: str) -> Sound:
    if channel > sound.n_channels:
        there_are = "one channel" if sound.n_channels == 1 else f"{sound.n_channels} channels"
        raise ParameterError(
            f"{name}: there is no channel {channel}; the file has {there_are}",
            code="no-such-channel",
            remedy=f"ask for a channel from 1 to {sound.n_channels}, or leave the choice out",
        )
    picked = OneChannel(sound, channel=channel)
    if isinstance(sound, SoundInMemory):
        return SoundInMemory(
            samples=picked.stretch(start=0, stop=sound.n_frames), sample_rate_hz=sound.sample_rate_hz
        )
    return picked
