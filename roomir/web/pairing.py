"""Which browser may talk to the page: a code shown on the computer's screen, and what it is exchanged for."""

from __future__ import annotations

import hashlib
import json
import secrets
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Without those that are taken for one another."""

CODE_LENGTH = 10
CODE_LASTS_S = 300.0
MOST_TRIES = 5
SESSION_LASTS_S = 12 * 3600.0


@dataclass(slots=True)
class _Code:
    letters: str
    until_s: float
    tries_left: int = MOST_TRIES


class Pairing:
    """One code at a time: for five minutes, for five tries, for one browser.

    Parameters
    ----------
    clock : callable
        Seconds that never run backwards; for tests.
    """

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._code: _Code | None = None

    def new_code(self) -> str:
        """Make a code; the one before it is void."""
        letters = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
        self._code = _Code(letters=letters, until_s=self._clock() + CODE_LASTS_S)
        return letters

    def redeem(self, letters: str) -> bool:
        """Try a code; the right one is used up, and so is one that was tried too often."""
        code = self._code
        if code is None or self._clock() > code.until_s:
            self._code = None
            return False
        code.tries_left -= 1
        if code.tries_left <= 0:
            self._code = None
        given = "".join(letters.lower().split())
        if not secrets.compare_digest(given.encode(), code.letters.encode()):
            return False
        self._code = None
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One paired browser.

    Attributes
    ----------
    name : str
        Hash of its cookie; the cookie itself is known to the browser alone.
    csrf : str
        What each of its forms has to hold.
    until_s : float
        When it ends, in seconds since 1970.
    """

    name: str
    csrf: str
    until_s: float


class Sessions:
    """Paired browsers, kept as hashes in a file, so that a restarted server still knows its phones.

    Parameters
    ----------
    path : Path
        The file; readable by its owner alone. One that is damaged counts as empty:
        the worst that happens is that a phone has to be paired again.
    clock : callable
        Seconds since 1970; for tests.
    """

    def __init__(self, path: Path, *, clock: Callable[[], float] = time.time) -> None:
        self._path = path
        self._clock = clock
        self._secret, self._until = self._load()

    def begin(self) -> str:
        """Begin a session and return its cookie."""
        cookie = secrets.token_urlsafe(32)
        self._until[_hash(cookie)] = self._clock() + SESSION_LASTS_S
        self._save()
        return cookie

    def find(self, cookie: str | None) -> Session | None:
        """Return the session of a cookie; None where there is none or it has ended."""
        if not cookie or len(cookie) > 200:
            return None
        name = _hash(cookie)
        until_s = self._until.get(name)
        if until_s is None or self._clock() > until_s:
            return None
        csrf = hashlib.blake2b(name.encode(), key=self._secret, digest_size=24).hexdigest()
        return Session(name=name, csrf=csrf, until_s=until_s)

    def end(self, session: Session) -> None:
        """Forget a browser."""
        self._until.pop(session.name, None)
        self._save()

    def _load(self) -> tuple[bytes, dict[str, float]]:
        with suppress(OSError, ValueError, TypeError, KeyError, AttributeError):
            kept = json.loads(self._path.read_text(encoding="utf-8"))
            secret = bytes.fromhex(kept["secret"])
            until = {str(name): float(until_s) for name, until_s in kept["until"].items()}
            if len(secret) == 32:
                return secret, until
        return secrets.token_bytes(32), {}

    def _save(self) -> None:
        now = self._clock()
        self._until = {name: until_s for name, until_s in self._until.items() if until_s > now}
        self._path.parent.mkdir(parents=True, exist_ok=True)
        part = self._path.with_name(f"{self._path.name}.{secrets.token_hex(4)}.part")
        part.touch(mode=0o600)
        part.write_text(json.dumps({"secret": self._secret.hex(), "until": self._until}), encoding="utf-8")
        part.replace(self._path)


def _hash(cookie: str) -> str:
    return hashlib.sha256(cookie.encode("utf-8", "replace")).hexdigest()
