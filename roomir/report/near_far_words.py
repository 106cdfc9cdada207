"""A source heard near and far, and a passage heard before and after, in words and as documents."""

from __future__ import annotations

from typing import TYPE_CHECKING

from roomir.report.document import Document, interval, number, remark_document
from roomir.report.rounding import decimals_of, rounded, rounded_outwards
from roomir.report.wording import said_and_done, sentence

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.compare.hear import Audition
    from roomir.compare.near_far import NearFar
    from roomir.compare.passages import Passage

_SAYS = {
    "as predicted": "as the room's decay time says",
    "falls less": "less than the room's decay time says: the source throws more sound away from the near"
    " microphone, or the gain was not the same",
    "falls more": "more than the room's decay time says: the source throws its sound forwards, or the gain"
    " was not the same",
    "cannot tell": "and what that says about the room cannot be told",
}


def near_far_says(found: NearFar) -> tuple[str, ...]:
    """Say how the level falls from near to far, what was expected, and why it cannot be told."""
    lines = []
    if found.measured_db is not None:
        decimals = min(decimals_of(found.measured_db, interval=found.measured_ci95_db), 1)
        ends = ""
        if found.measured_ci95_db is not None:
            ends = " ({} to {})".format(*rounded_outwards(found.measured_ci95_db, decimals=decimals))
        lines.append(
            f"From {found.near_m:g} m to {found.far_m:g} m the {found.sounds} fall by"
            f" {rounded(found.measured_db, decimals=decimals)} dB{ends}, {_SAYS[found.verdict]}."
        )
    else:
        lines.append("Near against far: cannot tell.")
    if found.predicted_db is not None and found.reverberation_distance_m is not None:
        low, high = (rounded(end, decimals=1) for end in found.predicted_db)
        lines.append(
            f"Expected: {low} to {high} dB, with direct and reverberant sound equally strong at"
            f" {found.reverberation_distance_m:.2f} m (source alike in all directions; the range goes up to a"
            " source in front of a body)."
        )
    return (*lines, *(said_and_done(remark) for remark in found.remarks))


def near_far_document(found: NearFar) -> Document:
    """Make the part of a document that stands for a source near and far."""
    return {
        "near_m": number(found.near_m),
        "far_m": number(found.far_m),
        "reverberation_distance_m": number(found.reverberation_distance_m),
        "measured_db": number(found.measured_db),
        "measured_ci95_db": interval(found.measured_ci95_db),
        "predicted_db": interval(found.predicted_db),
        "verdict": found.verdict,
        "sounds": found.sounds,
        "remarks": [remark_document(remark) for remark in found.remarks],
    }


def audition_says(audition: Audition, *, path: str) -> str:
    """Say what was written to be heard."""
    what = "one clap" if audition.passage.kind == "clap" else "the same chords"
    sides = (audition.passage.before, audition.passage.after)
    places = ", then ".join(f"{one.name} at {one.start_s:.1f} s" for one in sides)
    return sentence(
        f"{path}: {what} before and after, {sides[0].length_s:.1f} s each, at the same loudness"
        f" ({audition.loudness_lufs:.0f} LUFS, ITU-R BS.1770): {places}",
        capital=False,
    )


def audition_document(audition: Audition, *, path: str) -> Document:
    """Make the part of a document that stands for what was written to be heard."""
    return {
        "path": path,
        "passage": audition.passage.kind,
        "before": _passage(audition.passage.before, gain_db=audition.gains_db[0]),
        "after": _passage(audition.passage.after, gain_db=audition.gains_db[1]),
        "loudness_lufs": number(audition.loudness_lufs),
    }


def _passage(passage: Passage, *, gain_db: float) -> Document:
    return {
        "path": passage.name,
        "start_s": number(passage.start_s),
        "length_s": number(passage.length_s),
        "gain_db": number(gain_db),
    }
