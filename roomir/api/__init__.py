"""The front door: where files, arithmetic and reports meet. Command line, page and notebooks all use it."""

from __future__ import annotations

from roomir.api.advising import advise, guide
from roomir.api.comparing import aim, check_target, compare_readings, draw_comparison, hear, near_far
from roomir.api.keeping import export_logbook, open_logbook, rescue_logbook
from roomir.api.many import batch
from roomir.api.opening import Progress, Source
from roomir.api.saving import FIGURE_FORMATS, figure_format, save_figure
from roomir.api.taking import read, read_and_draw, room_advice, save_csv
from roomir.api.telling import (
    draw_history,
    history,
    history_aims,
    save_history_csv,
    stage_in,
    write_pdf,
    write_report,
)
from roomir.report.saving import FilePath

__all__ = [
    "FIGURE_FORMATS",
    "FilePath",
    "Progress",
    "Source",
    "advise",
    "aim",
    "batch",
    "check_target",
    "compare_readings",
    "draw_comparison",
    "draw_history",
    "export_logbook",
    "figure_format",
    "guide",
    "hear",
    "history",
    "history_aims",
    "near_far",
    "open_logbook",
    "read",
    "read_and_draw",
    "rescue_logbook",
    "room_advice",
    "save_csv",
    "save_figure",
    "save_history_csv",
    "stage_in",
    "write_pdf",
    "write_report",
]
