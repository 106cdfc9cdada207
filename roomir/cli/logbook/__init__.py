"""``roomir logbook``: what is kept, and how it is looked after."""

from __future__ import annotations

import typer

from roomir.cli.logbook import (
    annotate,
    backup,
    check,
    export,
    import_,
    list_,
    move,
    purge,
    remove,
    rename,
    reread,
    rescue,
    show,
    undo,
)

app = typer.Typer(
    help="Look at what is kept and look after it.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for _name, _command in (
    ("list", list_.list_),
    ("show", show.show),
    ("rename", rename.rename),
    ("move", move.move),
    ("annotate", annotate.annotate),
    ("remove", remove.remove),
    ("undo", undo.undo),
    ("purge", purge.purge),
    ("reread", reread.reread),
    ("check", check.check),
    ("backup", backup.backup),
    ("export", export.export),
    ("import", import_.import_),
    ("rescue", rescue.rescue),
):
    app.command(_name)(_command)
