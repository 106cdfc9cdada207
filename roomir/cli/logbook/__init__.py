"""``roomir logbook``: what is kept, and how it is looked after."""

from __future__ import annotations

import typer

from roomir.cli.logbook import list_, show

app = typer.Typer(
    help="Look at what is kept and look after it: list, show, rename, move, remove, check, export and more.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("list")(list_.list_)
app.command("show")(show.show)
