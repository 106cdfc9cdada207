"""Many recordings, each by itself."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from roomir.api.opening import check_channel, no_such_bands
from roomir.report.saving import FilePath

if TYPE_CHECKING:
    from roomir.batching.run import BatchProgress, BatchSummary


def batch(
    folder: FilePath,
    output: FilePath,
    *,
    jobs: int | None = None,
    bands: str = "octave",
    channel: int | None = None,
    scheduler: str | None = None,
    progress: BatchProgress | None = None,
) -> BatchSummary:
    """Read every recording below a folder, each by itself, in parallel, and write one table or document.

    An interrupted run goes on where it was stopped when it is called again:
    what has been read lies beside the output until that is written.

    Parameters
    ----------
    folder : path
        Where the recordings lie; folders below it are looked through as well.
    output : path
        Its name ends in ``.csv``, ``.json`` or ``.parquet``; replaced where it exists.
    jobs : int, optional
        Processes to use; as many as there are cores where it is left out.
    bands, channel
        As for :func:`read`.
    scheduler : str, optional
        Address of a Dask scheduler whose workers do it instead; they have to
        see the folder under the same path.
    progress : callable, optional
        Told how many recordings are done, of how many, and the time left [s].

    Returns
    -------
    BatchSummary
        How many were read, and how many files were left aside and why.

    Raises
    ------
    ParameterError
        For a name, a band set or a number that means nothing.
    RoomirError
        No folder, nothing to read, no place to write, or another run at work
        on the same output. A recording that cannot be read raises nothing.
    """
    from roomir.bands.band import BAND_SETS
    from roomir.batching.run import run_batch

    check_channel(channel)
    if bands not in BAND_SETS:
        raise no_such_bands(bands)
    return run_batch(
        Path(folder),
        Path(output),
        jobs=jobs,
        bands=bands,
        channel=channel,
        scheduler=scheduler,
        progress=progress,
    )
