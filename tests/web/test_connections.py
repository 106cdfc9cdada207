"""Connections: how many, how long they may idle, and what is said on them before and after a request."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress

import pytest

from roomir.web.guard import HEADERS
from roomir.web.patience import PatientProtocol
from tests.web.served import Served

GET = "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n"


def _get(page: Served, path: str = "/nothing") -> bytes:
    return GET.format(path=path, port=page.port).encode()


@contextmanager
def _line(page: Served) -> Iterator[socket.socket]:
    with socket.create_connection(("127.0.0.1", page.port), timeout=10) as line:
        yield line


def _until_cut(line: socket.socket) -> bytes:
    got = b""
    try:
        while piece := line.recv(65536):
            got += piece
    except ConnectionError:
        pass
    return got


def test_a_connection_that_never_says_what_it_wants_is_cut(page: Served, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(PatientProtocol, "head_within_s", 0.2)
    with _line(page) as line:
        line.sendall(b"GET / HTTP/1.1\r\nHost: 127")

        assert line.recv(1000) == b""


def test_a_connection_is_cut_as_well_when_it_falls_silent_after_an_answer(
    page: Served, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(PatientProtocol, "head_within_s", 0.3)
    with _line(page) as line:
        line.sendall(b"GET /nothing HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n" % page.port)
        assert line.recv(65536).startswith(b"HTTP/1.1 404")
        line.sendall(b"GET")

        while line.recv(65536):
            pass


def test_many_connections_of_one_are_told_to_come_again_and_very_many_are_cut(
    page: Served, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(PatientProtocol, "most_of_one", 3)
    with ExitStack() as lines:
        held = [lines.enter_context(_line(page)) for _ in range(3)]
        for one in held:
            one.sendall(_get(page))
            assert one.recv(65536).startswith(b"HTTP/1.1 404")
        with _line(page) as fourth:
            fourth.sendall(_get(page))
            answer = _until_cut(fourth)
            more = [lines.enter_context(_line(page)) for _ in range(4)]
            assert _until_cut(more[-1]) == b""
        assert answer.startswith(b"HTTP/1.1 503")
        assert b"retry-after" in answer.lower()
        assert b"try again" in answer
        _has_the_headers(answer)


def _has_the_headers(answer: bytes) -> None:
    head = answer.partition(b"\r\n\r\n")[0].decode().lower()
    for name, value in HEADERS.items():
        assert f"{name}: {value}".lower() in head


def test_an_answer_that_nobody_takes_is_thrown_away(page: Served, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(PatientProtocol, "taken_within_s", 0.2)
    monkeypatch.setattr(PatientProtocol, "most_of_one", 10**6)
    before = len(page.server.server_state.connections)
    with _line(page) as line:
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        # The answers to these are far more than both ends keep for who does not read.
        line.settimeout(1.0)
        with suppress(OSError):
            for _ in range(10_000):
                line.sendall(_get(page, "/static/page.css") * 100)
        for _ in range(100):
            if len(page.server.server_state.connections) <= before:
                return
            time.sleep(0.05)
    pytest.fail("it is still there")


def test_the_rest_of_a_body_is_not_listened_to_for_ever(page: Served, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(PatientProtocol, "rest_within_s", 0.3)
    with _line(page) as line:
        line.sendall(_get(page).replace(b"\r\n\r\n", b"\r\nContent-Length: 60000\r\n\r\n"))
        assert line.recv(65536).startswith(b"HTTP/1.1 404")
        began_s = time.monotonic()
        with suppress(OSError):
            while time.monotonic() - began_s < 8:
                line.sendall(b"x")
                time.sleep(0.02)

    assert time.monotonic() - began_s < 4


@pytest.mark.parametrize(
    "nonsense", [b"nonsense\r\n\r\n", b"GET / HTTP/1.1\r\n\r\n", "GET /\xff HTTP/1.1\r\n\r\n".encode()]
)
def test_what_is_no_request_is_turned_away_with_the_same_protection(page: Served, nonsense: bytes):
    answer = page.raw(nonsense)

    assert answer.startswith(b"HTTP/1.1 400")
    _has_the_headers(answer)


def test_nonsense_behind_a_request_breaks_nothing(page: Served, caplog: pytest.LogCaptureFixture):
    page.raw(_get(page) + b"\0nonsense\r\n\r\n")
    page.raw(_get(page).replace(b"\r\n\r\n", b"\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n"))

    assert caplog.records == []
