"""What the page runs with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Where the page listens, and what it works on.

    Attributes
    ----------
    logbook : Path
        The logbook that recordings go to; begun where there is none.
    folder : Path
        Where the page keeps what is its own: certificate, paired browsers, recordings on their way.
    names : tuple of str
        Names and addresses under which it is reached.
    port : int
        Where it listens.
    secure : bool
        Whether it speaks TLS.
    """

    logbook: Path
    folder: Path
    names: tuple[str, ...]
    port: int
    secure: bool

    @property
    def scheme(self) -> str:
        """``"http"`` or ``"https"``."""
        return "https" if self.secure else "http"

    @property
    def hosts(self) -> tuple[str, ...]:
        """What a request's ``Host`` may be."""
        usual = 443 if self.secure else 80
        with_port = [f"{name}:{self.port}" for name in self.names]
        return tuple(with_port + (list(self.names) if self.port == usual else []))

    def link(self, name: str, *, code: str = "") -> str:
        """Return the address of the page, with the code that pairs a browser where one is given."""
        return f"{self.scheme}://{name}:{self.port}/" + (f"#{code}" if code else "")
