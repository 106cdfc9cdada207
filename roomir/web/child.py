"""Work on what strangers sent, done by a process of its own that cannot take more than it is given."""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

LONGEST_S = 300.0
"""Longest that one piece of work may take. [s]"""
MOST_MEMORY = 4 << 30
"""Address space of the process, most of which libraries only reserve. [bytes]"""

# The folder of whoever starts the page is no place to import from; that of this very package is.
_ROOT = str(Path(__file__).resolve().parents[2])
_LIMITED = """
import runpy, sys
try:
    import resource
except ImportError:  # not on Windows
    pass
else:
    resource.setrlimit(resource.RLIMIT_AS, ({memory}, {memory}))
    resource.setrlimit(resource.RLIMIT_CPU, ({cpu_s}, {cpu_s}))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
sys.path.append({root!r})
runpy.run_module({module!r}, run_name="__main__", alter_sys=True)
"""


async def run_apart(
    module: str, arguments: Sequence[str], *, longest_s: float = LONGEST_S, most_memory: int = MOST_MEMORY
) -> tuple[int, bytes, bytes]:
    """Run a module as ``python -m`` does, within limits of time and memory.

    Parameters
    ----------
    module : str
        Its name.
    arguments : sequence of str
        What it is given.
    longest_s : float
        Longest that it may take, by the clock and by what it computes. [s]
    most_memory : int
        Address space. [bytes]

    Returns
    -------
    (int, bytes, bytes)
        Exit status and what it wrote to both streams.

    Raises
    ------
    TimeoutError
        If it took longer; then it and whatever it started are gone.
    """
    program = _LIMITED.format(memory=most_memory, cpu_s=int(longest_s) + 1, module=module, root=_ROOT)
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-P", "-c", program, *arguments),
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
        start_new_session=True,
        env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    )
    try:
        out, err = await asyncio.wait_for(process.communicate(), longest_s)
    finally:
        if process.returncode is None:
            # Decoders are processes of their own: all of the session goes.
            with suppress(ProcessLookupError):
                os.killpg(process.pid, 9)
            await process.wait()
    return process.returncode or 0, out, err
