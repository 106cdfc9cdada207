"""Keep a library below Python from writing on standard output."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Lock

_ONE_AT_A_TIME = Lock()


@contextmanager
def no_c_output() -> Iterator[None]:
    """Send to nowhere what C code prints meanwhile.

    The solver (HiGHS, in scipy) has a line of its own that no option turns
    off, and it would stand in the middle of a JSON document. For the time
    being the whole process's standard output is closed; where that is not
    possible nothing changes.
    """
    with _ONE_AT_A_TIME:
        with suppress(OSError, ValueError):
            sys.stdout.flush()
        try:
            kept = os.dup(1)
        except OSError:  # nobody listens anyway
            yield
            return
        try:
            with Path(os.devnull).open("wb") as nowhere:
                os.dup2(nowhere.fileno(), 1)
            yield
        finally:
            # What C has printed waits in its own buffer, and must not wait until the way is free again.
            with suppress(OSError, AttributeError, TypeError):
                ctypes.CDLL(None).fflush(None)
            os.dup2(kept, 1)
            os.close(kept)
