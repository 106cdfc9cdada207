"""Who reads a recording for the logbook: the sound is opened and its claps are found once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from roomir.reading.reading import Failure, Reading

if TYPE_CHECKING:
    from roomir.audio.recording import Recording
    from roomir.audio.watched import TellPart
    from roomir.claps.clap import Clap


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """A recording with its claps."""

    recording: Recording
    claps: Sequence[Clap]


class Reader(Protocol):
    """Somebody who hears recordings and reads what was heard."""

    def hear(self, path: Path, *, name: str, channel: int | None, tell: TellPart | None = None) -> Heard:
        """Open a recording, called ``name`` from here on; AudioError or ParameterError if it cannot be."""
        ...

    def read(self, heard: Sequence[Heard], *, band_set: str, failures: Sequence[Failure] = ()) -> Reading:
        """Read one or several recordings of one room in one state."""
        ...


class SoundReader:
    """The reader for real sound."""

    def hear(self, path: Path, *, name: str, channel: int | None, tell: TellPart | None = None) -> Heard:
        """Open a recording and find its claps."""
        # Here and not above: numpy is paid for by those who read, not by those who list.
        from roomir.audio.load import open_recording
        from roomir.audio.watched import Watched
        from roomir.claps.find import find_claps

        recording = replace(open_recording(path, channel=channel, tell=tell), source_name=name)
        sound = recording.sound if tell is None else Watched(recording.sound, tell=tell)
        return Heard(recording=recording, claps=find_claps(sound))

    def read(self, heard: Sequence[Heard], *, band_set: str, failures: Sequence[Failure] = ()) -> Reading:
        """Read what was heard."""
        from roomir.reading.take import read_claps

        return read_claps(
            [one.recording for one in heard],
            [one.claps for one in heard],
            failures=failures,
            band_set=band_set,
        )
