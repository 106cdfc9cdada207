"""Advice and guide on a screen of eighty columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from roomir.report.answer import answer
from roomir.report.guide import Guide, place_lines
from roomir.report.next_take import BandOutlook, Outlook
from roomir.report.room import RoomAdvice
from roomir.report.rounding import MISSING
from roomir.report.suggestion import Suggestion
from roomir.report.suggestions import Advice
from roomir.report.text import WIDTH, wrapped
from roomir.report.view import CAUTION, room_lines
from roomir.report.wording import band_name, joined, sentence
from roomir.rooms.places import Places

_LOUD = frozenset({"louder-than-hands"})

_KINDS = {
    "silence": "digital silence",
    "hum": "mains hum",
    "tone": "steady tones",
    "rumble": "rumble",
    "hiss": "even hiss",
    "rush": "rush of air",
}


def render_advice(
    advice: Advice, *, room: RoomAdvice | None = None, floor: Places | None = None, width: int = WIDTH
) -> str:
    """Lay out what to do next.

    Parameters
    ----------
    advice : Advice
        The steps and what they rest on.
    room : RoomAdvice, optional
        What the decay time says about a room of known size.
    floor : Places, optional
        Places for the next spots.
    width : int, default 80
        Columns to stay within.

    Returns
    -------
    str
        Lines ending in a line break.
    """
    return "\n".join(_advice_lines(advice, room=room, floor=floor, width=width)) + "\n"


def render_guide(guide: Guide, *, width: int = WIDTH) -> str:
    """Lay out the guide for the first take."""
    lines = ["Before the first take: you, a phone, half an hour."]
    for heading, texts in guide.sections:
        lines += ["", heading]
        for text in texts:
            lines += wrapped(text, width=width, first="  - ", rest="    ")
    return "\n".join(lines) + "\n"


def _advice_lines(
    advice: Advice, *, room: RoomAdvice | None, floor: Places | None, width: int
) -> Iterator[str]:
    yield from wrapped(answer(advice.reading)[0], width=width)
    yield ""
    if advice.suggestions:
        yield "Next, what buys most first:"
        for i, step in enumerate(advice.suggestions, start=1):
            yield from _step(step, n=i, n_bands=len(advice.reading.bands), width=width)
    else:
        yield from wrapped("Nothing is left to do: plan with this reading.", width=width)
    if advice.outlook.bands:
        yield ""
        yield from _band_table(advice.outlook.bands)
        yield from wrapped(
            "Seen: decay above the background. To 35 dB: what is missing for full trust; to 45 dB: for T30.",
            width=width,
        )
    facts = [*_facts(advice.outlook)]
    if facts:
        yield ""
        for fact in facts:
            yield from wrapped(fact, width=width)
    lines = (*(room_lines(room) if room else ()), *(place_lines(floor) if floor else ()))
    if lines:
        yield from ("", "The room:")
        for said in lines:
            yield from wrapped(said, width=width, first="  ", rest="  ")
    if any(step.code in _LOUD for step in advice.suggestions):
        yield from ("", *wrapped(CAUTION, width=width))


def _step(step: Suggestion, *, n: int, n_bands: int, width: int) -> Iterator[str]:
    names = [band_name(hz) for hz in step.bands_hz]
    # A reason names its bands; a bare remedy of the reading does not.
    whom = f"{joined(names)}: " if names and len(names) < n_bands and not step.why else ""
    yield from wrapped(sentence(whom + step.do), width=width, first=f"  {n}. ", rest="     ")
    for label, text in (("Because", step.why), ("Buys", step.buys)):
        if text:
            yield from wrapped(sentence(f"{label}: {text}"), width=width, first="     ", rest="     ")


def _band_table(bands: Sequence[BandOutlook]) -> Iterator[str]:
    heads = ("Band", "Trust", "Seen dB", "To 35", "To 45", "What would do", "Background")
    rows = [
        (
            band_name(band.band.nominal_hz),
            band.verdict,
            _number(band.seen_db),
            _number(band.missing_db(35.0)),
            _number(band.missing_db(45.0)),
            MISSING if band.reach == "there" else band.reach,
            MISSING if band.noise is None else _KINDS[band.noise.kind],
        )
        for band in bands
    ]
    widths = [max(len(row[i]) for row in (heads, *rows)) for i in range(len(heads))]
    for row in (heads, *rows):
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _number(value: float | None) -> str:
    return MISSING if value is None else f"{value:.0f}"


def _facts(outlook: Outlook) -> Iterator[str]:
    if outlook.peak_dbfs is not None:
        yield f"Loudest clap: {-outlook.peak_dbfs:.0f} dB below full scale."
    if outlook.free_s is not None and outlook.needed_s is not None:
        yield (
            f"Each clap had {outlook.free_s:.1f} s to itself; the slowest band needs about"
            f" {outlook.needed_s:.0f} s."
        )
    if outlook.background is None and outlook.bands:
        yield "The background could not be looked at: there is no half second of quiet between the claps."
