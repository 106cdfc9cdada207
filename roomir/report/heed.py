"""What the recorder did to the takes, in one short sentence beside the answer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from roomir.reading.reading import ClapReading, Reading
from roomir.report.wording import in_words, sentence

SHORT = {
    "added-reverberation": "reverberation was possibly added by an app",
    "automatic-gain": "the level was ridden up and down (automatic gain)",
    "background-changes": "the background changes behind a clap",
    "background-lower-after": "the background is quieter after a clap than before it",
    "bent-in-all-bands": "all bands bend at once, as no room makes them",
    "channels-apart": "one microphone comes later than the other",
    "channels-disagree": "one microphone was levelled otherwise than the other",
    "clicks": "something clicked inside a decay",
    "clipped": "too loud for the recorder (clipped)",
    "dropout": "sound was lost",
    "faded-in": "faded in",
    "faded-out": "faded out",
    "gain-suspected": "bands seem to bend together (a recorder that changes its level?)",
    "level-drops": "the level drops inside a decay",
    "level-jumps": "the level jumps inside a decay",
    "loud-part-held-down": "loud parts were held down (limiter or compressor)",
    "repeated-block": "sound was written twice",
    "rounded-away": "the end of the decay is lost in rounding",
    "sound-inside-decay": "another sound lies inside a decay",
    "speech-codec": "packed by a coder for voices",
    "starts-inside-decay": "the recording begins inside a decay",
    "stops-inside-decay": "the recording stops inside a decay",
    "tail-pulled-down": "the end of the decay was pulled down (gate or noise suppression)",
    "upper-bands-empty": "the upper bands are empty",
    "voice-band": "recorded as in a phone call",
    "wrong-rate": "the rate in the file's header is in doubt",
}
"""Concerns in a few words, by code."""


def heed(reading: Reading) -> tuple[str, ...]:
    """Name the faults of the recordings, most widespread first; nothing where there are none.

    Returns
    -------
    tuple of str
        One sentence at most. The faults themselves, with numbers and
        remedies, stand with the takes and the claps.
    """
    claps = [clap for take in reading.takes for clap in take.claps if clap.used or clap.concerns]
    of_takes = _counts(remark.code for take in reading.takes for remark in take.concerns)
    of_claps = _counts(remark.code for clap in claps for remark in clap.concerns)
    n_takes = len(reading.takes)
    said = [
        words_of(code) + (f" in {in_words(n)} of {in_words(n_takes)} recordings" if n < n_takes else "")
        for code, n in of_takes
    ]
    said += [
        f"{words_of(code)}, {_which(n, claps=claps, code=code)}"
        for code, n in of_claps
        if code not in dict(of_takes)
    ]
    return (sentence(f"heed the recording: {'; '.join(said)}"),) if said else ()


def words_of(code: str) -> str:
    """Say a concern in a few words."""
    return SHORT.get(code, code.replace("-", " "))


def _which(n: int, *, claps: list[ClapReading], code: str) -> str:
    n_left_out = sum(
        clap.set_aside_because is not None and clap.set_aside_because.code == code for clap in claps
    )
    which = "at every clap" if n == len(claps) else f"at {in_words(n)} of {in_words(len(claps))} claps"
    if not n_left_out:
        return which
    return f"{which}, left out" if n_left_out == n else f"{which}, {in_words(n_left_out)} left out"


def _counts(codes: Iterable[str]) -> list[tuple[str, int]]:
    return Counter(codes).most_common()
