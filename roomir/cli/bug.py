"""What happens when roomir itself is at fault: one line, and a report that can be passed on."""

from __future__ import annotations

import platform
import sys
import tempfile
import traceback
from collections.abc import Sequence

from roomir import __version__
from roomir.cli import show as screen


def show(error: Exception, *, arguments: Sequence[str]) -> None:
    """Tell the user in one line, and keep the details in a file.

    Parameters
    ----------
    error : Exception
        What was raised and not foreseen.
    arguments : sequence of str
        The command line without the program's name; with ``--debug`` in it
        the traceback is shown as well.
    """
    trace = "".join(traceback.format_exception(error))
    if "--debug" in arguments:
        sys.stderr.write(trace)
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    where = _save(trace, arguments=arguments)
    screen.line(f"this is a fault in roomir, not in your recording ({what}). {where}")


def _save(trace: str, *, arguments: Sequence[str]) -> str:
    report = "\n".join(
        (
            f"roomir {__version__}",
            f"Python {platform.python_version()} on {platform.platform()}",
            f"arguments: {list(arguments)}",
            "",
            trace,
        )
    )
    try:
        with tempfile.NamedTemporaryFile(
            "w",
            encoding="utf-8",
            errors="backslashreplace",
            prefix="roomir-fault-",
            suffix=".txt",
            delete=False,
        ) as file:
            file.write(report)
    except OSError:
        return "No report could be saved; run it again with --debug to see the details."
    return f"Please pass on the report saved as {file.name}."
