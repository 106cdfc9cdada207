"""Which parts of a room stood in it in which stage, as its file says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

KEYS = frozenset({"since", "until"})
"""Keys of a part or a furnishing: the stage it came with, and the one it was gone with."""

REMEDY = 'list them in their order under [room]: stages = ["bare", "panels"]'


def stage_names(head: dict[str, Any]) -> tuple[str, ...] | None:
    """Stages that a file names, in their order; ``None`` where they are no list of different texts.

    Examples
    --------
    >>> stage_names({"stages": ["bare", "panels"]}), stage_names({}), stage_names({"stages": "bare"})
    (('bare', 'panels'), (), None)
    """
    listed = head.get("stages", [])
    if not isinstance(listed, list) or not all(isinstance(one, str) and one.strip() for one in listed):
        return None
    return tuple(listed) if len({one.casefold() for one in listed}) == len(listed) else None


def unknown_stages(row: dict[str, Any], stages: Sequence[str]) -> list[str]:
    """Keys of a row that name no stage of the file."""
    known = {one.casefold() for one in stages}
    return [
        key
        for key in sorted(KEYS & set(row))
        if not (isinstance(row[key], str) and row[key].casefold() in known)
    ]


def is_there(row: dict[str, Any], stages: Sequence[str], at: int) -> bool:
    """Whether something stands in the room in a stage.

    Parameters
    ----------
    row : dict
        Of a part or a furnishing.
    stages : sequence of str
        In their order.
    at : int
        Place of the stage among them.

    Examples
    --------
    >>> curtain = {"since": "bare", "until": "panels"}
    >>> [is_there(curtain, ("shell", "bare", "panels"), at) for at in range(3)]
    [False, True, False]
    """
    places = {one.casefold(): i for i, one in enumerate(stages)}
    since = places.get(str(row.get("since", "")).casefold(), 0)
    until = places.get(str(row.get("until", "")).casefold(), len(stages) + 1)
    return since <= at < until
