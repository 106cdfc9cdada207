"""A reading as pictures; the one place that loads matplotlib, and librosa for the picture of a take.

Import it where something is drawn and not above: matplotlib costs half a
second, librosa more. Trust is told by shape, kinds of line by dashes and
lightness, so that a page printed in grey loses nothing.
"""

from roomir.report.figures.decay_times import decay_time_figure
from roomir.report.figures.decays import decay_figure
from roomir.report.figures.found import finding_figure
from roomir.report.figures.page import page_figure
from roomir.report.figures.take import take_figure

__all__ = ["decay_figure", "decay_time_figure", "finding_figure", "page_figure", "take_figure"]
