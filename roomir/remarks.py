"""A remark: one thing worth saying about a take, a clap or a band, with what to do about it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One finding in plain words.

    Attributes
    ----------
    code : str
        Stable name in lower-case words joined by hyphens, for programs.
    says : str
        What was found, with the numbers at hand, for the builder.
    remedy : str
        What to do about it; empty where nothing can be done.
    """

    code: str
    says: str
    remedy: str = ""
