"""Questions to whoever sits at the terminal; where nobody does, flags are the answer."""

from __future__ import annotations

import sys

import typer

from roomir.errors import ParameterError
from roomir.logbook.names import Decide, NearName, refuse_near, use_near, use_new
from roomir.report.wording import printable


def somebody_is_there() -> bool:
    """Whether questions can be asked and answered."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def about_names(*, yes: bool, new: bool) -> Decide:
    """Return who decides about a name that is close to one that is there."""
    if yes and new:
        raise ParameterError(
            "--yes and --new contradict each other",
            code="contradicting-options",
            remedy="--yes takes the name that is there, --new makes a new one: give one of them",
        )
    if new:
        return use_new
    if yes:
        return use_near
    return _ask if somebody_is_there() else refuse_near


def _ask(near: NearName) -> str:
    asked = f'There is no {near.kind} "{near.wanted}" yet. Do you mean "{near.near}"?'
    return near.near if typer.confirm(printable(asked), default=True, err=True) else near.wanted
