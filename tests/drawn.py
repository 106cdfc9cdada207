"""Looking into figures that were drawn."""

from __future__ import annotations

from typing import Any


def axes_of(figure: Any, name: str) -> Any:
    """The axes of that name."""
    (axes,) = (axes for axes in figure.axes if axes.get_label() == name)
    return axes


def texts_of(figure: Any) -> list[str]:
    """Every text on a figure, apart from the numbers on axes, in the order it was written."""
    written = [text.get_text() for text in figure.texts]
    return [*written, *(text.get_text() for axes in figure.axes for text in axes.texts)]


def lines_of(axes: Any, gid: str) -> list[Any]:
    """The lines that were drawn as that."""
    return [line for line in axes.lines if line.get_gid() == gid]
