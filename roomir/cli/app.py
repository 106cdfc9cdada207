"""The command line: what there is to type, and what becomes of errors."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from roomir import __version__
from roomir.cli import (
    absorber,
    advise,
    batch,
    bug,
    compare,
    demo,
    hear,
    history,
    log,
    logbook,
    materials,
    page,
    predict,
    read,
    report,
    room,
    show,
    targets,
    treat,
)
from roomir.errors import ParameterError, RoomirError

EXIT_READING = 0
EXIT_NO_READING = 1
EXIT_USAGE = 2
EXIT_BUG = 70

app = typer.Typer(
    name="roomir",
    help=(
        "How long does this room ring, and may you trust the number?\n\n"
        "Clap in the room, record it with your phone, and let roomir read the file:"
        " roomir read kitchen.m4a"
    ),
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("read")(read.read)
app.command("compare")(compare.compare)
app.command("history")(history.history)
app.command("report")(report.report)
app.command("targets")(targets.targets)
app.command("advise")(advise.advise)
app.command("batch")(batch.batch)
app.command("log")(log.log)
app.add_typer(logbook.app, name="logbook")
app.command("page")(page.page)
app.command("demo")(demo.demo)
app.command("predict")(predict.predict)
app.command("treat")(treat.treat)
app.command("hear")(hear.hear)
app.add_typer(absorber.app, name="absorber")
app.command("diffuser")(absorber.diffuser)
app.command("materials")(materials.materials)
app.add_typer(room.app, name="room")


def _print_version(asked: bool) -> None:  # noqa: FBT001  (typer hands the flag over by position)
    if asked:
        typer.echo(f"roomir {__version__}")
        raise typer.Exit


@app.callback()
def _roomir(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Take the options that stand before a command."""


def main() -> None:
    """Run ``roomir`` and leave with its exit status.

    Raises
    ------
    SystemExit
        Always: 0 a reading, 1 none or some file failed, 2 wrong usage, 70 a
        fault in roomir itself.
    """
    show.make_streams_safe()
    try:
        app(prog_name="roomir")
    except ParameterError as error:
        show.fault(error)
        sys.exit(EXIT_USAGE)
    except RoomirError as error:
        show.fault(error)
        sys.exit(EXIT_NO_READING)
    except Exception as error:
        bug.show(error, arguments=sys.argv[1:])
        sys.exit(EXIT_BUG)
