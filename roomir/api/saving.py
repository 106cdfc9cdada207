"""Writing to files, whole or not at all."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

from roomir.audio.files import display_name
from roomir.errors import ParameterError
from roomir.report.saving import FilePath, write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure


FIGURE_FORMATS = ("png", "svg", "pdf")
"""What a figure can be saved as, by the suffix of its file."""


def figure_format(path: FilePath) -> str:
    """Tell the format of a figure from the name of its file.

    Parameters
    ----------
    path : path
        Where the figure is to go.

    Returns
    -------
    str
        One of `FIGURE_FORMATS`.

    Raises
    ------
    ParameterError
        If the suffix is none of them.

    Examples
    --------
    >>> figure_format("dairy.PNG")
    'png'
    """
    suffix = Path(path).suffix.lower().removeprefix(".")
    if suffix not in FIGURE_FORMATS:
        *most, last = (f".{one}" for one in FIGURE_FORMATS)
        raise ParameterError(
            f"{display_name(path)} is no name for a figure",
            code="no-such-figure-format",
            remedy=f"let the name end in {', '.join(most)} or {last}",
        )
    return suffix


def save_figure(figure: Figure, path: FilePath) -> None:
    """Save a figure to a PNG, SVG or PDF file, whole or not at all.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        What to save.
    path : path
        Its suffix tells the format; replaced where it exists.

    Raises
    ------
    ParameterError
        If the suffix is none of `FIGURE_FORMATS`.
    RoomirError
        If the file cannot be written.
    """
    picture = io.BytesIO()
    figure.savefig(picture, format=figure_format(path), dpi=figure.dpi)
    write_whole(Path(path), picture.getvalue())
