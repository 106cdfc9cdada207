"""What clients send: names, files, and nonsense. Nothing of it is an error of the server."""

from __future__ import annotations

import html
import json
import stat
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from roomir import api
from roomir.report.wording import printable
from roomir.web import jobs
from roomir.web.body import MOST_SMALL_BYTES
from tests.web.served import Served, served

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "{{ 7 * 7 }} {% raw %}",
    "&lt;b&gt; &amp;",
    "../../etc/passwd",
    "--help",
    "-rf",
    "\u202eevil\u2066",
    "javascript:alert(1)",
    "a" * 200,
)


def _send(
    browser: httpx.Client, csrf: str, *, name: str = "a.wav", sound: bytes = b"x", **fields: str
) -> Any:
    data = {"csrf": csrf, "room": "r", "stage": "s"} | fields
    return browser.post(
        "/takes", data=data, files={"take": (name, sound)}, headers={"Accept": "application/json"}
    )


def _end(browser: httpx.Client, job: str) -> dict[str, Any]:
    for _ in range(400):
        said = browser.get(f"/takes/{job}", headers={"Accept": "application/json"}).json()
        if said["state"] not in ("waiting", "reading"):
            return said
        time.sleep(0.05)
    raise AssertionError("it never ended")


# ------------------------------------------------------------------ where files go


@pytest.mark.parametrize(
    "called",
    [
        *(
            "../../../tmp/evil.wav",
            "/etc/passwd",
            "..\\..\\evil.wav",
            "a\0b.wav",
            "con.wav",
            "x/../../y.flac",
        ),
        *(".bashrc", "--help.wav", "a.wav;rm -rf", "\u202egpj.wav", "e" * 900 + ".wav", "a.../", "~/x.wav"),
    ],
)
def test_what_arrives_lies_where_the_page_says(page: Served, reads_nothing: list[list[str]], called: str):
    with page.paired() as (browser, csrf):
        quoted = called.replace("\0", "%00").replace("\\", "\\\\")
        _end(browser, _send(browser, csrf, name=quoted).json()["job"])
    where = Path(reads_nothing[-1][1])

    assert where.parent.parent == page.settings.folder / "arriving"
    assert where.name.removesuffix(".wav").removesuffix(".flac").startswith("page-20")
    assert not where.exists()


def test_what_arrives_is_confirmed_by_its_hash(page: Served, reads_nothing: list[list[str]]):
    with page.paired() as (browser, csrf):
        said = _send(browser, csrf, sound=b"abc").json()

    # FIPS 180-2, appendix B.1: the message "abc".
    assert said["sha256"] == ["ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"]
    assert reads_nothing is not None


def test_nobody_else_on_the_computer_reads_what_arrives(tmp_path: Path):
    arriving = jobs.Jobs(folder=tmp_path / "arriving", logbook=tmp_path / "book.sqlite")
    path = arriving.new_file("a.wav")

    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


# ------------------------------------------------------------------ names


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_stays_one_argument_of_what_reads(page: Served, reads_nothing: list[list[str]], name: str):
    with page.paired() as (browser, csrf):
        _end(browser, _send(browser, csrf, room=name, stage=name, spot=name).json()["job"])

    assert {f"--room={name}", f"--stage={name}", f"--spot={name}"} <= set(reads_nothing[-1])
    assert len([one for one in reads_nothing[-1] if not one.startswith("--")]) == 2


@pytest.mark.parametrize("name", ["a\0b", "a\nb", "a\x1b[2J", "a\x7f", "\x85a\x9b"])
def test_control_signs_are_no_part_of_a_name(page: Served, reads_nothing: list[list[str]], name: str):
    with page.paired() as (browser, csrf):
        answer = _send(browser, csrf, room=name + "b")

    assert answer.status_code == 400
    assert reads_nothing == []


@pytest.fixture(scope="module")
def full_page(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = tmp_path_factory.mktemp("full")
    with api.open_logbook(folder / "book.sqlite", create=True) as book:
        for name in HOSTILE:
            missing = folder / "hopeless.wav"
            missing.write_bytes(b"no sound " + name.encode())
            _log(book, missing, name)
    with served(folder) as one:
        yield one


def _log(book: Any, path: Path, name: str) -> None:
    from roomir.logbook.names import use_new
    from roomir.logbook.values import About, File

    book.log([File(path=path, about=About(spot=name))], room=name, stage=name, decide=use_new)


def test_names_are_text_on_every_page(full_page: Served):
    with full_page.paired() as (browser, _):
        for name in HOSTILE:
            texts = [
                browser.get("/").text,
                browser.get("/record", params={"room": name, "stage": name}).text,
                browser.get("/room", params={"room": name}).text,
                browser.get("/room", params={"room": name + "?", "target": name}).text,
            ]
            for text, spelt in zip(texts[:3], (printable(name), name, printable(name)), strict=True):
                assert html.escape(spelt).replace("&#x27;", "&#39;").replace("&quot;", "&#34;") in text
            for text in texts:
                assert "<script>" not in text
                assert "<img src=x" not in text
                assert "' onmouseover='" not in text
                assert '"><img' not in text


def test_a_link_to_a_room_leads_there_whatever_its_name(full_page: Served):
    with full_page.paired() as (browser, _):
        home = browser.get("/").text
        links = [html.unescape(part.split('"')[0]) for part in home.split('<a href="')[1:] if "room=" in part]
        assert len(links) == len(HOSTILE)

        assert {browser.get(link).status_code for link in links} == {200}


@pytest.mark.parametrize(
    "query", ["room=%00", "room=%ff%fe", "room=", "", "room=x&room=y", "room=" + "x" * 4000]
)
def test_a_room_that_is_not_there_is_a_plain_answer(full_page: Served, query: str):
    with full_page.paired() as (browser, _):
        for path in ("/room", "/picture", "/decays"):
            assert browser.get(f"{path}?{query}").status_code in (400, 404)


@pytest.mark.parametrize("target", ["/etc/passwd", "../x.toml", "0.2-0.3", "nothing"])
def test_no_file_is_opened_as_a_target(full_page: Served, target: str):
    with full_page.paired() as (browser, _):
        answer = browser.get("/room", params={"room": "--help", "target": target})

    assert answer.status_code == 400
    assert "no target of that name" in answer.text


# ------------------------------------------------------------------ nonsense

PART = b'--b\r\nContent-Disposition: form-data; name="csrf"\r\n\r\nx\r\n'
NONSENSE = {
    "nothing": (b"multipart/form-data; boundary=b", b""),
    "no boundary": (b"multipart/form-data", PART),
    "empty boundary": (b"multipart/form-data; boundary=", PART),
    "very long boundary": (b"multipart/form-data; boundary=" + b"b" * 20000, PART),
    "other boundary": (b"multipart/form-data; boundary=c", PART),
    "cut off": (b"multipart/form-data; boundary=b", PART[:30]),
    "without name": (
        b"multipart/form-data; boundary=b",
        b"--b\r\nContent-Disposition: form-data\r\n\r\nx\r\n--b--",
    ),
    "without head": (b"multipart/form-data; boundary=b", b"--b\r\n\r\nx\r\n--b--\r\n"),
    "bad head": (b"multipart/form-data; boundary=b", b"--b\r\n\xff\xfe: \x00\r\n\r\nx\r\n--b--\r\n"),
    "name not in UTF-8": (
        b"multipart/form-data; boundary=b",
        b'--b\r\nContent-Disposition: form-data; name="take"; filename="\xff\xfe.wav"\r\n\r\nx\r\n--b--\r\n',
    ),
    "odd coding": (b"multipart/form-data; boundary=b; charset=hex", PART + b"--b--\r\n"),
    "unknown coding": (b"multipart/form-data; boundary=b; charset=klingon", PART + b"--b--\r\n"),
    "coding of halves": (
        b"multipart/form-data; boundary=b; charset=unicode_escape",
        PART.replace(b"\r\n\r\nx", b"\r\n\r\n\\ud800") + b"--b--\r\n",
    ),
    "many fields": (b"multipart/form-data; boundary=b", PART * 500 + b"--b--\r\n"),
    "huge field": (
        b"multipart/form-data; boundary=b",
        PART.replace(b"x\r\n", b"x" * 200_000) + b"\r\n--b--\r\n",
    ),
    "huge head": (
        b"multipart/form-data; boundary=b",
        b"--b\r\nX: " + b"y" * 2_000_000 + b"\r\n" + PART[5:] + b"--b--\r\n",
    ),
    "many files": (
        b"multipart/form-data; boundary=b",
        b'--b\r\nContent-Disposition: form-data; name="take"; filename="a"\r\n\r\nx\r\n' * 100 + b"--b--\r\n",
    ),
    "JSON": (b"application/json", b'{"csrf": 1}'),
    "plain": (b"text/plain", b"csrf=x"),
    "urlencoded": (b"application/x-www-form-urlencoded", b"csrf=%ff%00&&&=&=;;room=%"),
    "many urlencoded": (b"application/x-www-form-urlencoded", b"a=b&" * 10000),
    "bad kind": (b"\xff\xfe", b"x"),
    "no kind": (b"", b"x"),
}


@pytest.mark.parametrize("path", ["/pair", "/takes", "/another", "/takes/abc/answer"])
@pytest.mark.parametrize("what", NONSENSE)
def test_nonsense_is_answered_with_a_refusal(page: Served, path: str, what: str):
    kind, body = NONSENSE[what]
    with page.paired() as (browser, _):
        try:
            status = browser.post(path, content=body, headers={b"Content-Type": kind}).status_code
        except httpx.TransportError:  # what was far too long was cut off while it still came
            assert len(body) > MOST_SMALL_BYTES
            status = 413

    assert 400 <= status < 500


@pytest.mark.parametrize(
    "request_text",
    [
        *(
            b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
            b"GET\r\n\r\n",
            b"GET / HTTP/9.9\r\n\r\n",
            b"\0" * 100,
        ),
        b"POST /takes HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
        b"POST /takes HTTP/1.1\r\nHost: x\r\nContent-Length: 1\r\nTransfer-Encoding: chunked\r\n\r\n",
        b"POST /pair HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.0\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\n" + b"X: y\r\n" * 20000 + b"\r\n",
        b"GET /" + b"a" * 200_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
    ],
)
def test_what_is_no_request_is_turned_away(page: Served, request_text: bytes):
    try:
        answer = page.raw(request_text)
    except OSError:
        answer = b""  # the line was cut while it still spoke

    assert not answer.startswith(b"HTTP/1.1 5")
    with page.browser() as browser:
        assert browser.get("/").status_code == 200


# ------------------------------------------------------------------ jobs


def test_a_page_without_script_leads_from_the_form_to_the_room(page: Served, reads_nothing: list[list[str]]):
    with page.paired() as (browser, csrf):
        data = {"csrf": csrf, "room": "r", "stage": "s", "spot": "", "dimensions": "5x4x2.4"}
        sent = browser.post("/takes", data=data, files=[("take", ("a.wav", b"x")), ("take", ("b.MOV", b"y"))])
        assert sent.status_code == 303
        _end(browser, sent.headers["location"].rpartition("/")[2])
        done = browser.get(sent.headers["location"])

    assert done.status_code == 303
    assert done.headers["location"].startswith("/room?room=r&lot=")
    assert "--dimensions=5x4x2.4" in reads_nothing[-1]
    assert [Path(one).suffix for one in reads_nothing[-1][1:3]] == [".wav", ".mov"]


def test_room_stage_and_recording_are_asked_for(page: Served):
    with page.paired() as (browser, csrf):
        assert _send(browser, csrf, room="  ").status_code == 400
        assert browser.post("/takes", data={"csrf": csrf, "room": "r"}, files={"x": b""}).status_code == 400


def test_a_name_like_one_that_is_there_is_asked_about(page: Served, answers_with: Callable[..., None]):
    says = 'there is no room "Diary" yet, but there is "Dairy"; add --yes if "Dairy" is meant, or --new if'
    answers_with(2, "", f"roomir: {says} ...")
    with page.paired() as (browser, csrf):
        said = _end(browser, _send(browser, csrf, room="Diary").json()["job"])
        assert said["state"] == "asks"
        assert said["says"] == 'There is no room "Diary" yet, but there is "Dairy".'
        assert "Which one is it?" in browser.get(f"/takes/{said['job']}").text

        answers_with(0, '{"room": "Dairy", "stage": "s", "takes": []}', "")
        browser.post(f"/takes/{said['job']}/answer", data={"csrf": csrf, "name": "there"})
        assert _end(browser, said["job"])["state"] == "done"


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ((2, "", "roomir: it is no day; write 2024-05-03"), "It is no day; write 2024-05-03."),
        ((-9, "", ""), "out of memory or time"),
        ((70, "", "Traceback (most recent call last): /home/somebody/secret"), "out of memory or time"),
    ],
)
def test_what_could_not_be_read_says_why_and_nothing_about_the_computer(
    page: Served, answers_with: Callable[..., None], answer: tuple[int, str, str], says: str
):
    answers_with(*answer)
    with page.paired() as (browser, csrf):
        said = _end(browser, _send(browser, csrf).json()["job"])

    assert said["state"] == "failed"
    assert says in said["says"]


def test_where_a_recording_lay_is_told_to_nobody(page: Served, monkeypatch: pytest.MonkeyPatch):
    async def run(_module: str, arguments: list[str], **_: Any) -> tuple[int, bytes, bytes]:
        path = arguments[1]
        take = {
            "name": path,
            "outcome": "not kept",
            "failure": {"says": f"{path}: no clap", "remedy": "clap"},
        }
        told = json.dumps({"room": "r", "stage": "s", "takes": [take]})
        return 1, told.encode(), f"roomir: {path}: no clap. Clap.".encode()

    monkeypatch.setattr("roomir.web.jobs.run_apart", run)
    with page.paired() as (browser, csrf):
        said = _end(browser, _send(browser, csrf).json()["job"])

    assert said["state"] == "done"
    assert str(page.settings.folder) not in json.dumps(said)
    assert said["result"]["takes"][0]["failure"]["says"].startswith("page-20")


def test_a_sound_that_was_there_before_leads_to_the_room_where_it_is(
    full_page: Served, answers_with: Callable[..., None]
):
    failure = {"says": 'a.wav: this sound is kept already, in the room "--help"', "remedy": "move it"}
    take = {
        "name": "a.wav",
        "outcome": "kept elsewhere",
        "take": {"room": "--help", "spot": "A"},
        "failure": failure,
    }
    answers_with(0, json.dumps({"room": "New", "stage": "s", "takes": [take]}), "")
    with full_page.paired() as (browser, csrf):
        said = _end(browser, _send(browser, csrf, room="New").json()["job"])
        assert browser.get(f"/takes/{said['job']}").headers["location"] == said["leads_to"]
        there = browser.get(said["leads_to"])

    assert there.status_code == 200
    assert (
        "Kept elsewhere: A. This sound is kept already, in the room &#34;--help&#34;; move it." in there.text
    )


def test_a_lot_of_an_earlier_page_is_unknown_so_that_the_phone_sends_again(page: Served):
    with page.paired() as (browser, _):
        assert browser.get("/takes/abcdef", headers={"Accept": "application/json"}).status_code == 404


def test_one_browser_does_not_fill_the_queue(page: Served, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(jobs, "MOST_OF_ONE", 0)
    with page.paired() as (browser, csrf):
        answer = _send(browser, csrf)

    assert answer.status_code == 503
    assert answer.headers["Retry-After"]
    assert "try again" in answer.json()["says"]
    assert list((page.settings.folder / "arriving").iterdir()) == []
