"""Twenty phones that send a take of a minute each to one page at once: ``python -m tests.benchmarks.page``.

Counts takes that were lost or refused without a clear "try again", how long the page
takes to answer meanwhile against its idle time, and the most memory that it and its
readers took. Takes are made (seed in the result), in noise, with a clap every ten seconds.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from statistics import median
from typing import Any

import httpx
import numpy as np
import soundfile

from roomir import api

RESULTS = Path(__file__).parent / "results" / "page.json"
RATE_HZ = 48_000
JSON = {"Accept": "application/json"}


def made_take(seed: int, *, lasts_s: float) -> bytes:
    """Make claps in a room of half a second, as the 32-bit WAV that the page's recorder sends."""
    rng = np.random.default_rng(seed)
    samples = 1e-4 * rng.standard_normal(int(lasts_s * RATE_HZ))
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    for onset in range(5 * RATE_HZ, len(samples) - len(time_s), 10 * RATE_HZ):
        samples[onset : onset + len(time_s)] += (
            0.2 * rng.standard_normal(len(time_s)) * 10 ** (-3 * time_s / 0.5)
        )
    out = io.BytesIO()
    soundfile.write(out, samples.astype(np.float32), RATE_HZ, format="WAV", subtype="FLOAT")
    return out.getvalue()


class Phone(threading.Thread):
    """One that sends until the logbook has its take, as the page's own script does."""

    def __init__(self, page: str, cookies: dict[str, str], csrf: str, take: bytes, name: str) -> None:
        super().__init__()
        self.take, self.name_of_spot = take, name
        self.refusals: list[int] = []
        self.unclear = 0
        self.outcome = "lost"
        self._csrf = csrf
        self._browser = httpx.Client(base_url=page, headers={"Origin": page}, cookies=cookies, timeout=120)

    def run(self) -> None:
        """Send, and wait for the answer."""
        until_s = time.monotonic() + 1500
        while time.monotonic() < until_s:
            answer = self._browser.post(
                "/takes",
                data={"csrf": self._csrf, "room": "Hall", "stage": "bare", "spot": self.name_of_spot},
                files={"take": ("take.wav", self.take)},
                headers=JSON,
            )
            if answer.status_code != 202:
                self.refusals.append(answer.status_code)
                self.unclear += "retry-after" not in answer.headers or "try again" not in answer.text
                time.sleep(2)
                continue
            job = answer.json()
            assert job["sha256"] == [hashlib.sha256(self.take).hexdigest()]
            patience_s = 0.4
            while job["state"] in ("waiting", "reading"):
                time.sleep(patience_s := min(1.3 * patience_s, 3.0))
                polled = self._browser.get(f"/takes/{job['job']}", headers=JSON)
                if polled.status_code == 200:
                    job = polled.json()
                else:
                    self.refusals.append(polled.status_code)
                    self.unclear += "retry-after" not in polled.headers
            self.outcome = job["result"]["takes"][0]["outcome"] if job["state"] == "done" else job["says"]
            return


def _answer_s(browser: httpx.Client) -> float:
    time.sleep(0.5)
    began_s = time.perf_counter()
    assert browser.get("/record").status_code == 200
    return time.perf_counter() - began_s


def _memory_mb(pid: int) -> tuple[float, float]:
    """Return what the page holds, and what it and its children hold together. [MB]"""
    lines = subprocess.run(["ps", "-eo", "pid,ppid,rss"], capture_output=True, text=True, check=True).stdout
    rows = [tuple(map(int, line.split())) for line in lines.splitlines()[1:]]
    family = {pid}
    for _ in range(4):
        family |= {one for one, parent, _ in rows if parent in family}
    own = next((rss for one, _, rss in rows if one == pid), 0)
    return own / 1024, sum(rss for one, _, rss in rows if one in family) / 1024


def run(*, n_phones: int, lasts_s: float, seed: int) -> dict[str, Any]:
    """Run it once."""
    takes = [made_take(seed + i, lasts_s=lasts_s) for i in range(n_phones)]
    with tempfile.TemporaryDirectory() as folder:
        logbook = Path(folder) / "book.sqlite"
        command = [sys.executable, "-m", "roomir", "page", "--no-open", "--port=0", f"--logbook={logbook}"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True) as server:
            assert server.stdout is not None
            link = next(line.strip() for line in server.stdout if line.startswith("http"))
            page, _, code = link.partition("#")
            page = page.rstrip("/")
            with httpx.Client(base_url=page, headers={"Origin": page}, timeout=120) as browser:
                browser.post("/pair", data={"code": code})
                csrf = browser.get("/").text.split('name="csrf" value="')[1].split('"')[0]
                idle_s = [_answer_s(browser) for _ in range(40)][10:]
                cookies = dict(browser.cookies)
                phones = [Phone(page, cookies, csrf, take, f"S{i}") for i, take in enumerate(takes)]
                began_s = time.perf_counter()
                for phone in phones:
                    phone.start()
                busy_s, memory = [], [_memory_mb(server.pid)]
                while any(phone.is_alive() for phone in phones):
                    busy_s.append(_answer_s(browser))
                    memory.append(_memory_mb(server.pid))
                took_s = time.perf_counter() - began_s
            server.terminate()
        with api.open_logbook(logbook) as book:
            kept = {take.original_sha256 for take in book.takes()}
    return {
        "phones": n_phones,
        "take_s": lasts_s,
        "seed": seed,
        "cores": os.cpu_count(),
        "load_before": round(os.getloadavg()[2], 1),
        "sent_mb": round(sum(map(len, takes)) / 1e6, 1),
        "lost": sum(hashlib.sha256(take).hexdigest() not in kept for take in takes),
        "outcomes": {one: [p.outcome for p in phones].count(one) for one in {p.outcome for p in phones}},
        "asked_to_try_again": sum(len(phone.refusals) for phone in phones),
        "refused_without_a_clear_try_again": sum(phone.unclear for phone in phones),
        "all_read_after_s": round(took_s, 1),
        "answer_idle_ms": round(1000 * median(idle_s), 1),
        "answer_busy_ms": round(1000 * median(busy_s), 1),
        "answer_busy_worst_ms": round(1000 * max(busy_s), 1),
        "answer_busy_to_idle": round(median(busy_s) / median(idle_s), 1),
        "page_most_mb": round(max(own for own, _ in memory)),
        "page_and_readers_most_mb": round(max(whole for _, whole in memory)),
    }


def main() -> None:
    """Run it and keep the result."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--phones", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=20)
    asked = parser.parse_args()
    result = run(n_phones=asked.phones, lasts_s=asked.seconds, seed=asked.seed)
    git = subprocess.run(["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False)
    result = {"commit": git.stdout.strip()} | result
    RESULTS.write_text(json.dumps(result, indent=1) + "\n", "utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
