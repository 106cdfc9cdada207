"""When a recording was made, as far as the file knows."""

from __future__ import annotations

import re
from datetime import UTC, datetime

_HAS_TIME = re.compile(r"\d[T ]\d\d:?\d\d")

_CAMERAS_BEGIN = 1990
"""Containers count from 1904 or 1970 and write that year where the clock was never set."""


def when_recorded(
    dates: tuple[str, ...], *, modified_at_s: float
) -> tuple[datetime, str] | tuple[None, None]:
    """Choose the best date there is and say where it came from.

    Parameters
    ----------
    dates : tuple of str
        Dates found in the file, best first. One without a time of day does
        not count; one without a time zone is taken as the local time here.
    modified_at_s : float
        When the file was last written. [s since 1970]

    Returns
    -------
    (datetime, str) or (None, None)
        An aware instant and ``"metadata"`` or ``"file date"``; nothing where
        neither can be a date.
    """
    for text in dates:
        instant = parse_date(text)
        if instant is not None:
            return instant, "metadata"
    try:
        return datetime.fromtimestamp(modified_at_s, tz=UTC), "file date"
    except (ValueError, OverflowError, OSError):  # a file system without a clock
        return None, None


def parse_date(text: str) -> datetime | None:
    """Return an aware instant, or None for anything but a full date with a time of day."""
    text = text.strip().strip("\0")
    if not _HAS_TIME.search(text):
        return None
    try:
        instant = datetime.fromisoformat(text)
        if instant.year < _CAMERAS_BEGIN:
            return None
        return instant if instant.tzinfo is not None else instant.astimezone()
    except (ValueError, OverflowError, OSError):
        return None
