"""How much may be sent, how fast, and by how many at once."""

from __future__ import annotations

import asyncio
import errno
import socket
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.requests import Request

from roomir.web.arrival import LEAST_FREE, DiskFullError, Space
from roomir.web.body import LONGEST_SMALL_S, MOST_BYTES, MOST_SMALL_BYTES, Limits
from roomir.web.child import run_apart
from tests.web.served import Served, served

HEAD = (
    "POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
    "Origin: http://127.0.0.1:{port}\r\nCookie: {cookie}\r\n"
)


def _head(page: Served, browser: object, path: str = "/takes") -> bytes:
    cookie = "; ".join(f"{k}={v}" for k, v in browser.cookies.items())
    return HEAD.format(path=path, port=page.port, cookie=cookie).encode()


def test_two_hundred_megabytes_are_the_most():
    assert MOST_BYTES == 200 * 1024 * 1024


@pytest.mark.parametrize(("path", "most"), [("/takes", MOST_BYTES), ("/pair", MOST_SMALL_BYTES)])
def test_too_much_is_refused_by_its_stated_length_before_it_comes(page: Served, path: str, most: int):
    with page.paired() as (browser, _):
        head = _head(page, browser, path)
    answer = page.raw(head + b"Content-Length: %d\r\n\r\nx" % (most + 1))

    assert answer.startswith(b"HTTP/1.1 413")
    assert b"nosniff" in answer


def test_too_much_without_a_length_is_stopped_while_it_comes(page: Served):
    with page.paired() as (browser, _):
        head = _head(page, browser, "/another")
    began_s = time.monotonic()
    with socket.create_connection(("127.0.0.1", page.port), timeout=20) as line:
        line.sendall(
            head + b"Content-Type: application/x-www-form-urlencoded\r\nTransfer-Encoding: chunked\r\n\r\n"
        )
        piece = b"4000\r\n" + b"a" * 0x4000 + b"\r\n"
        sent = 0
        try:
            while sent < 100 << 20:
                line.sendall(piece)
                sent += len(piece)
        except OSError:
            pass
        else:
            pytest.fail("all of it was taken")

    assert time.monotonic() - began_s < 15


def _too_much(most_bytes: int, pieces: list[bytes]) -> tuple[int, int]:
    """Send pieces to an application that reads all; return the status and how many were taken."""
    taken = 0

    async def reads_all(_scope: object, receive: Callable, send: Callable) -> None:
        while (await receive())["more_body"]:
            pass
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    async def receive() -> dict[str, object]:
        nonlocal taken
        taken += 1
        return {"type": "http.request", "body": pieces[taken - 1], "more_body": taken < len(pieces)}

    answers: list[dict[str, object]] = []

    async def send(message: dict[str, object]) -> None:
        answers.append(message)

    scope = {"type": "http", "method": "POST", "path": "/takes", "headers": [], "client": ("a", 1)}
    asyncio.run(Limits(reads_all, large=("/takes",), most_bytes=most_bytes)(scope, receive, send))
    return answers[0]["status"], taken


def test_a_body_without_a_length_is_read_no_farther_than_its_limit():
    assert _too_much(1000, [b"x" * 400] * 50) == (413, 3)
    assert _too_much(1000, [b"x" * 500] * 2) == (200, 2)


def test_what_was_stopped_leaves_nothing_behind(page: Served):
    with page.paired() as (browser, _):
        head = _head(page, browser)
    start = head + b"Content-Type: multipart/form-data; boundary=b\r\nContent-Length: 9000000\r\n\r\n"
    part = b'--b\r\nContent-Disposition: form-data; name="take"; filename="x.wav"\r\n\r\n' + b"z" * 3_000_000
    page.raw(start + part)

    assert list((page.settings.folder / "arriving").iterdir()) == []
    with page.browser() as browser:
        assert browser.get("/").status_code == 200


class Clock:
    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


def test_a_sender_who_stops_midway_is_let_go():
    async def sends_nothing() -> dict[str, object]:
        await asyncio.sleep(60)
        return {}

    status = _status(Limits(_reads_one, slowest_s=0.05), sends_nothing)

    assert status == 408


def test_a_sender_who_drips_is_let_go():
    clock = Clock()

    async def drips() -> dict[str, object]:
        clock.now_s += 10
        return {"type": "http.request", "body": b"x", "more_body": True}

    assert _status(Limits(_reads_all, large=("/takes",), longest_s=95, clock=clock), drips) == 408
    assert clock.now_s == 100


async def _reads_one(_scope: object, receive: Callable, _send: Callable) -> None:
    await receive()


async def _reads_all(_scope: object, receive: Callable, _send: Callable) -> None:
    while True:
        await receive()


def _status(limits: Limits, receive: Callable, **scope: object) -> int:
    answers: list[dict[str, object]] = []

    async def send(message: dict[str, object]) -> None:
        answers.append(message)

    whole = {"type": "http", "method": "POST", "path": "/takes", "headers": [], "client": ("a", 1), **scope}
    asyncio.run(limits(whole, receive, send))
    return answers[0]["status"]


async def _answers(_scope: object, _receive: Callable, send: Callable) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b""})


def test_too_many_requests_in_a_minute_are_told_to_come_again():
    clock = Clock()
    limits = Limits(_answers, most_a_minute=5, clock=clock)

    assert [_status(limits, None, method="GET") for _ in range(6)] == [200] * 5 + [429]
    assert _status(limits, None, method="GET", client=("b", 1)) == 200
    clock.now_s += 61
    assert _status(limits, None, method="GET") == 200


def test_whoever_is_not_paired_takes_no_place_from_who_sends_a_recording():
    async def wait_and_see() -> list[int]:
        async def never_comes() -> dict[str, object]:
            await asyncio.sleep(60)
            return {}

        async def app(scope: dict, receive: Callable, send: Callable) -> None:
            await (_answers if scope["path"] == "/takes" else _reads_one)(scope, receive, send)

        limits = Limits(app, large=("/takes",), most_at_once=1, most_small_at_once=3)
        answers: list[int] = []

        async def send(message: dict) -> None:
            answers.append(message.get("status", 0))

        scope = {"type": "http", "method": "POST", "path": "/pair", "headers": [], "client": ("a", 1)}
        held = [asyncio.create_task(limits(scope, never_comes, send)) for _ in range(3)]
        await asyncio.sleep(0)
        await limits(scope, never_comes, send)
        await limits(scope | {"path": "/takes"}, never_comes, send)
        await limits(scope | {"path": "/takes", "client": ("b", 1)}, never_comes, send)
        for one in held:
            one.cancel()
        await asyncio.gather(*held, return_exceptions=True)
        return [status for status in answers if status]

    assert asyncio.run(wait_and_see()) == [503, 200, 200]


def test_what_is_no_recording_has_to_come_soon():
    clock = Clock()

    async def drips() -> dict[str, object]:
        clock.now_s += 10
        return {"type": "http.request", "body": b"x", "more_body": True}

    assert _status(Limits(_reads_all, large=("/takes",), clock=clock), drips, path="/pair") == 408
    assert clock.now_s == LONGEST_SMALL_S + 10


def test_an_address_that_is_only_claimed_does_not_begin_a_new_count(
    page: Served, monkeypatch: pytest.MonkeyPatch
):
    counted: set[str] = set()
    real = Limits._refusal

    def look(limits: Limits, scope: dict) -> object:
        counted.add(scope["client"][0])
        return real(limits, scope)

    monkeypatch.setattr(Limits, "_refusal", look)
    with page.browser() as browser:
        for i in range(3):
            browser.get("/", headers={"X-Forwarded-For": f"192.0.2.{i}", "Forwarded": f"for=192.0.2.{i}"})

    assert counted == {"127.0.0.1"}


def test_too_many_senders_at_once_are_told_to_come_again():
    async def wait_and_see() -> list[int]:
        held = asyncio.Event()

        async def holds(scope: object, receive: Callable, send: Callable) -> None:
            await held.wait()
            await _answers(scope, receive, send)

        limits = Limits(holds, large=("/takes",), most_at_once=2)
        answers: list[dict] = []

        async def send(message: dict) -> None:
            answers.append(message)

        scope = {"type": "http", "method": "POST", "path": "/takes", "headers": [], "client": ("a", 1)}
        first = [asyncio.create_task(limits(scope, None, send)) for _ in range(2)]
        await asyncio.sleep(0)
        await limits(scope, None, send)
        assert (b"retry-after", b"5") in answers[0]["headers"]
        held.set()
        await asyncio.gather(*first)
        await limits(scope, None, send)
        return [one["status"] for one in answers if "status" in one]

    assert asyncio.run(wait_and_see()) == [503, 200, 200, 200]


def test_nothing_is_taken_in_where_the_disk_is_full(page: Served, monkeypatch: pytest.MonkeyPatch):
    class Full:
        free = LEAST_FREE - 1

    monkeypatch.setattr("roomir.web.arrival.shutil.disk_usage", lambda _: Full)
    with page.paired() as (browser, csrf):
        answer = browser.post("/takes", data={"csrf": csrf, "room": "r"}, files={"take": b"x"})

    assert answer.status_code == 503
    assert "Retry-After" in answer.headers


def _form(csrf: str) -> dict[str, Any]:
    return {
        "data": {"csrf": csrf, "room": "r", "stage": "s"},
        "files": [("take", ("a.wav", b"x" * 5000)), ("take", ("b.wav", b"y" * 5000))],
        "headers": {"Accept": "application/json"},
    }


def test_room_on_the_disk_is_promised_to_everybody_who_sends(page: Served, monkeypatch: pytest.MonkeyPatch):
    class Little:
        free = LEAST_FREE + 30_000

    monkeypatch.setattr("roomir.web.arrival.shutil.disk_usage", lambda _: Little)
    space = Space(page.settings.folder)
    request = Request({"type": "http", "headers": [(b"content-length", b"10000")]})
    unstated = Request({"type": "http", "headers": []})
    with space.for_body(request), pytest.raises(DiskFullError), space.for_body(request):
        pass
    with space.for_body(request):
        pass
    with pytest.raises(DiskFullError), space.for_body(unstated):
        pass


def test_a_disk_that_fills_up_meanwhile_is_told_and_leaves_nothing(
    page: Served, monkeypatch: pytest.MonkeyPatch
):
    written: list[Path] = []

    async def write(_: object, path: Path) -> str:
        if written:
            raise OSError(errno.ENOSPC, "No space left on device")
        written.append(path)
        path.write_bytes(b"x")
        return "0"

    monkeypatch.setattr("roomir.web.arrival._write", write)
    with page.paired() as (browser, csrf):
        answer = browser.post("/takes", **_form(csrf))

    assert answer.status_code == 503
    assert answer.headers["Retry-After"]
    assert "disk is full" in answer.json()["says"]
    assert list((page.settings.folder / "arriving").iterdir()) == []


def test_what_an_earlier_page_left_half_done_is_gone_at_the_start(tmp_path: Path):
    left = tmp_path / "book.page" / "arriving" / "0123" / "page-2026.wav"
    left.parent.mkdir(parents=True)
    left.write_bytes(b"half a take")
    with served(tmp_path) as page:
        folder = page.settings.folder / "arriving"

        assert list(folder.iterdir()) == []
        assert folder.stat().st_mode & 0o077 == 0


# ------------------------------------------------------------------ the process that reads


def _module(folder: Path, monkeypatch: pytest.MonkeyPatch, code: str) -> str:
    (folder / "hungry.py").write_text(code)
    monkeypatch.setenv("PYTHONPATH", str(folder))
    return "hungry"


def test_a_decoder_that_wants_all_the_memory_gets_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    module = _module(tmp_path, monkeypatch, "x = bytearray(1 << 31)")
    status, _, err = asyncio.run(run_apart(module, [], most_memory=1 << 30))

    assert status != 0
    assert b"MemoryError" in err


def test_a_decoder_that_never_ends_is_ended_with_all_that_it_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    code = (
        "import subprocess, sys, time\n"
        "child = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(60)'])\n"
        f"open({str(tmp_path / 'pid')!r}, 'w').write(str(child.pid))\n"
        "time.sleep(60)"
    )
    with pytest.raises(TimeoutError):
        asyncio.run(run_apart(_module(tmp_path, monkeypatch, code), [], longest_s=3.0))

    assert _is_gone(int((tmp_path / "pid").read_text()))


def _is_gone(pid: int) -> bool:
    for _ in range(50):
        state = Path(f"/proc/{pid}/stat")
        if not state.exists() or state.read_text().rpartition(")")[2].split()[0] == "Z":
            return True
        time.sleep(0.1)
    return False
