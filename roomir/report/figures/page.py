"""Everything about a reading on one sheet: the answer, the decay times, the decays, the takes."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from roomir.audio.recording import Recording
from roomir.reading.reading import Reading
from roomir.report.answer import answer, but
from roomir.report.figures.decay_times import decay_time_strips
from roomir.report.figures.decays import decay_strips
from roomir.report.figures.found import finding_strips
from roomir.report.figures.sheet import HEAD_PT, SMALL_PT, Strip, drawable, gap, make_sheet, paragraph
from roomir.report.figures.spectrum import spectrogram
from roomir.report.figures.take import take_strips
from roomir.report.heed import heed
from roomir.report.view import LIMITS, fault_lines
from roomir.report.wording import counted

MOST_TAKES = 12
"""More pictures of takes than this are a page nobody scrolls through."""

_GAP_IN = 0.35


def page_figure(reading: Reading, recordings: Sequence[Recording]) -> Figure:
    """Draw all there is to see about a reading, one below the other.

    Parameters
    ----------
    reading : Reading
        One that kept its evidence: ``roomir.read(..., with_evidence=True)``.
    recordings : sequence of Recording
        The sounds of its takes, in the same order.

    Returns
    -------
    matplotlib.figure.Figure
        As wide as a phone's screen and as high as it takes; a reading of
        nothing says why.

    Raises
    ------
    ParameterError
        If the reading has decay times and kept no evidence of them.
    """
    headline, _ = answer(reading)
    strips = [paragraph(headline, size_pt=HEAD_PT, weight="bold")]
    strips += [paragraph(one) for one in (*heed(reading), *but(reading.bands))]
    strips += [paragraph(drawable(line)) for line in fault_lines(reading)]
    if reading.bands:
        strips += [gap(_GAP_IN), *decay_time_strips({"": reading})]
        strips += [gap(_GAP_IN), *decay_strips(reading)]
    if found := finding_strips(reading):
        strips += [gap(_GAP_IN), *found]
    for recording, take in zip(recordings[:MOST_TAKES], reading.takes, strict=False):
        strips += [gap(_GAP_IN), *take_strips(spectrogram(recording.sound), take)]
    strips += [gap(_GAP_IN), *_small_print(reading)]
    return make_sheet(strips)


def _small_print(reading: Reading) -> list[Strip]:
    n_more = max(len(reading.takes) - MOST_TAKES, 0)
    lines = [f"{counted(n_more, 'more recording')} not shown."] if n_more else []
    return [
        paragraph(line, size_pt=SMALL_PT, after_in=0.05)
        for line in (*lines, LIMITS, f"roomir {reading.roomir_version}")
    ]
