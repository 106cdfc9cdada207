"""``roomir batch``: a folder of recordings in, one table out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from roomir import api
from roomir.cli import show
from roomir.cli.options import BandSet, ChannelOption, DebugOption
from roomir.report.wording import counted

if TYPE_CHECKING:
    from roomir.batching.run import BatchSummary

EXIT_INTERRUPTED = 130


def batch(
    *,
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where the recordings lie; folders in it count as well.")
    ],
    output: Annotated[
        Path,
        typer.Option(
            "--output", "-o", metavar="FILE", help="What to write; it ends in .csv, .json or .parquet."
        ),
    ],
    jobs: Annotated[
        int | None,
        typer.Option("--jobs", min=1, metavar="N", help="Processes to use; without it one for each core."),
    ] = None,
    bands: Annotated[
        BandSet, typer.Option(help="Bands to read; thirds need longer decays.")
    ] = BandSet.OCTAVE,
    channel: ChannelOption = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="Let the workers of this Dask cluster do it; they must see FOLDER under the same path.",
        ),
    ] = None,
    debug: DebugOption = False,
) -> None:
    """Read every recording in a folder, each by itself, into one table.

    Interrupt it when you like: the same command goes on where it stopped.
    A file that gives no reading is a row with the reason.

    Leaves with 0 when every recording was read, 1 when some was not, 2 if
    called wrongly, 130 when interrupted.
    """
    del debug  # main() looks for it where every error ends up.
    try:
        with show.batch_progress() as progress:
            summary = api.batch(
                folder,
                output,
                jobs=jobs,
                bands=bands.value,
                channel=channel,
                scheduler=scheduler,
                progress=progress,
            )
    except KeyboardInterrupt:
        show.line("interrupted; nothing is lost, the same command goes on from here")
        raise typer.Exit(EXIT_INTERRUPTED) from None
    show.paragraph(_told(summary))
    raise typer.Exit(1 if summary.n_failed else 0)


def _told(summary: BatchSummary) -> str:
    parts = [f"{summary.output}: {counted(summary.n_recordings, 'recording')}, {summary.n_read} read"]
    if summary.n_failed:
        parts.append(f"{summary.n_failed} not (the reason stands beside each)")
    if summary.n_resumed:
        parts.append(f"{summary.n_resumed} of them in an earlier run")
    told = ", ".join(parts) + "."
    if summary.left_aside:
        aside = ", ".join(f"{n} {reason}" for reason, n in summary.left_aside.items())
        told += f" Left aside: {aside}."
    return told
