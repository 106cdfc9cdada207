"""roomir: how long does this room ring, and may I trust the number?

>>> import roomir
>>> reading = roomir.read(["no-such-take.wav"])
>>> reading.failures[0].path
'no-such-take.wav'
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from roomir.api import (
        advise,
        aim,
        batch,
        compare_readings,
        draw_comparison,
        draw_history,
        history,
        open_logbook,
        read,
        read_and_draw,
        room_advice,
        save_figure,
        write_report,
    )

__version__ = "0.1.0"
__all__ = [
    "__version__",
    "advise",
    "aim",
    "batch",
    "compare_readings",
    "draw_comparison",
    "draw_history",
    "history",
    "open_logbook",
    "read",
    "read_and_draw",
    "room_advice",
    "save_figure",
    "write_report",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401
    # Looked up when first used, so that importing a part of roomir does not load the whole; by name,
    # since the package itself stands below the layers (they take its version) and must not import one.
    if name in __all__:
        return getattr(import_module("roomir.api"), name)
    raise AttributeError(f"module 'roomir' has no attribute {name!r}")
