"""Everything roomir raises on purpose.

::

    RoomirError                     message and remedy
    +- ParameterError (ValueError)  an argument no answer exists for
    +- AudioError                   a file that gives no sound, with its name
    |  +- UnreadableAudioError      missing, no permission, damaged or not sound at all
    |  +- NothingRecordedError      empty, silent, or shorter than any clap
    +- LogbookError                 a logbook that cannot be used, or does not have what is asked for

A band that cannot be measured is a value, never an exception: an exception
means that the whole question has no answer. Anything else that is raised is
a bug.
"""

from __future__ import annotations


class RoomirError(Exception):
    """Root of the tree: one clear sentence and one remedy.

    Parameters
    ----------
    says : str
        What went wrong, in one line, naming the file or the argument.
    code : str
        Stable name for programs, lower-case words joined by hyphens.
    remedy : str
        What to do next, in one line.
    """

    def __init__(self, says: str, *, code: str, remedy: str = "") -> None:
        super().__init__(says)
        self.says = says
        self.code = code
        self.remedy = remedy


class ParameterError(RoomirError, ValueError):
    """An argument for which no answer exists."""


class AudioError(RoomirError):
    """A file that gives no sound to work on."""


class UnreadableAudioError(AudioError):
    """The file is missing, locked, damaged, or holds no sound."""


class NothingRecordedError(AudioError):
    """The file opens, but nothing in it can be a clap: empty, silent or too short."""


class LogbookError(RoomirError):
    """A logbook that cannot be opened or written, or that does not have what is asked for."""
