"""Words around numbers: names of bands, counts, sentences, and text that is safe to print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from roomir.bands.band import Band
from roomir.remarks import Remark


def band_name(nominal_hz: float) -> str:
    """Name of a band as people say it.

    Examples
    --------
    >>> band_name(125), band_name(31.5), band_name(1000), band_name(1250)
    ('125 Hz', '31.5 Hz', '1 kHz', '1.25 kHz')
    """
    if nominal_hz >= 1000:
        return f"{nominal_hz / 1000:g} kHz"
    return f"{nominal_hz:g} Hz"


_COUNTS = (
    "no", "one", "two", "three", "four", "five", "six",
    "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip


def counted(n: int, noun: str) -> str:
    """Write a count in words up to twelve, with the noun in the right number.

    Examples
    --------
    >>> counted(1, "spot"), counted(5, "spot"), counted(20, "clap"), counted(0, "clap")
    ('one spot', 'five spots', '20 claps', 'no claps')
    """
    return f"{in_words(n)} {noun}" if n == 1 else f"{in_words(n)} {noun}s"


def in_words(n: int) -> str:
    """Write a count in words up to twelve."""
    return _COUNTS[n] if n < len(_COUNTS) else str(n)


def printable(text: str) -> str:
    r"""Write text from outside so that it can do nothing but be read.

    File names are data: control characters, line breaks, direction marks and
    bytes that are no text are spelt out, so that a name can neither colour,
    move nor forge a line on the screen.

    Examples
    --------
    >>> printable("clap\x1b[2J.wav")
    'clap\\x1b[2J.wav'
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def fault_line(path: str, *, says: str, remedy: str) -> str:
    """Write one line about a file: its name, what is wrong with it, and the remedy."""
    names_it = says.startswith(path)
    return " ".join(
        part
        for part in ("" if names_it else f"{path}:", sentence(says, capital=False), sentence(remedy))
        if part
    )


def sentence(text: str, *, capital: bool = True) -> str:
    """Begin with a capital (unless a name stands there) and end with a full stop."""
    text = text.strip()
    if not text:
        return ""
    if capital:
        text = text[0].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def after_comma(text: str) -> str:
    """Let a sentence go on where another one began."""
    return text[:1].lower() + text[1:]


def joined(names: Iterable[str]) -> str:
    """Write a list as people do.

    Examples
    --------
    >>> joined(["63 Hz", "125 Hz", "8 kHz"])
    '63 Hz, 125 Hz and 8 kHz'
    """
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def band_names(bands: Sequence[Band], *, among: Sequence[Band]) -> str:
    """Name several bands, neighbours as a stretch.

    Parameters
    ----------
    bands : sequence of Band
        Bands to name, low to high.
    among : sequence of Band
        All bands there are, low to high: they tell which are neighbours.

    Examples
    --------
    >>> from roomir.bands.band import OCTAVES
    >>> band_names([OCTAVES[0], *OCTAVES[3:7]], among=OCTAVES)
    '63 Hz and 500 Hz to 4 kHz'
    """
    places = [list(among).index(band) for band in bands]
    stretches: list[list[int]] = []
    for place in places:
        if stretches and place == stretches[-1][-1] + 1:
            stretches[-1].append(place)
        else:
            stretches.append([place])
    names = []
    for stretch in stretches:
        ends = [band_name(among[place].nominal_hz) for place in (stretch[0], stretch[-1])]
        few = [band_name(among[place].nominal_hz) for place in stretch]
        names += few if len(stretch) < 3 else [f"{ends[0]} to {ends[1]}"]
    return joined(names)


def said_and_done(remark: Remark) -> str:
    """Write a remark and its remedy as sentences."""
    return " ".join(part for part in (sentence(remark.says), sentence(remark.remedy)) if part)
