"""Names of materials: told apart without regard to signs, and found under what else people call them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

Synonyms = tuple[tuple[str, ...], ...]
"""Groups of words that mean the same."""


def squeezed(text: str) -> str:
    """Text without case, spaces, hyphens and commas.

    Examples
    --------
    >>> squeezed("Stone Wool 50 mm, 80 kg/m3")
    'stonewool50mm80kg/m3'
    """
    return re.sub(r"[\s,\-_]+", "", text.casefold())


def wanted(words: Sequence[str], synonyms: Synonyms) -> list[re.Pattern[str]]:
    r"""Turn what somebody looks for into what the text of a row has to have.

    Examples
    --------
    >>> [one.pattern for one in wanted(["rockwool", "50"], (("stone wool", "rock wool"),))]
    ['\\bstone[\\s-]*wool|\\brock[\\s-]*wool', '50']
    """
    plain = [word.casefold() for text in words for word in text.split()]
    found: list[str] = []
    start = 0
    while start < len(plain):
        others: tuple[str, ...] = ()
        for stop in range(len(plain), start, -1):
            others = _others(squeezed("".join(plain[start:stop])), synonyms)
            if others:
                break
        # A phrase begins where a word does, or "sofa" would stand in "compilations of absorption".
        found.append("|".join(map(_phrase, others)) if others else re.escape(plain[start]))
        start = stop if others else start + 1
    return [re.compile(one) for one in found]


def _phrase(text: str) -> str:
    return r"\b" + r"[\s-]*".join(map(re.escape, re.split(r"[\s-]+", text.casefold())))


def _others(word: str, synonyms: Synonyms) -> tuple[str, ...]:
    """Everything that means the same as a word, itself among them; empty where nothing else does."""
    both = (word, word.removesuffix("s"))
    ours = [group for group in synonyms if any(squeezed(one) in both for one in group)]
    return tuple(dict.fromkeys(one for group in ours for one in group))


def other_names(name: str, synonyms: Synonyms) -> Iterator[str]:
    """Spell a name with each of the words that mean the same, squeezed.

    Examples
    --------
    >>> list(other_names("Drywall 13 mm on studs", (("gypsum board", "drywall"),)))
    ['gypsumboard13mmonstuds']
    """
    whole = squeezed(name)
    for group in synonyms:
        plain = [squeezed(one) for one in group]
        # The longest first: "gypsum plasterboard" has "plasterboard" in it.
        for one in sorted((one for one in plain if one in whole), key=len, reverse=True):
            yield from (whole.replace(one, other) for other in plain if other != one)


def parse_synonyms(rows: object) -> Synonyms:
    """Take groups of words from a file; what is none is passed over."""
    found: list[tuple[str, ...]] = []
    for row in rows if isinstance(rows, Iterable) else ():
        words = row.get("words") if isinstance(row, dict) else None
        if isinstance(words, list) and all(isinstance(word, str) and word for word in words):
            found.append(tuple(words))
    return tuple(found)
