"""Where the page listens, under which names, and what it says on the screen."""

from __future__ import annotations

import os
import signal
import socket
import ssl
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from cryptography import x509

from roomir.errors import RoomirError
from roomir.web import certificate, serve
from roomir.web.certificate import certificate_for
from roomir.web.gallery import Gallery
from roomir.web.settings import Settings
from tests.web.served import Served, served

NAMES = ("192.0.2.7", "workshop.local", "127.0.0.1", "localhost")


def test_the_certificate_is_for_names_and_addresses_and_its_key_for_the_owner_alone(tmp_path: Path):
    made = certificate_for(NAMES, folder=tmp_path)
    names = x509.load_pem_x509_certificate(made.certificate.read_bytes()).extensions.get_extension_for_class(
        x509.SubjectAlternativeName
    )

    assert {str(one.value) for one in names.value} == set(NAMES)
    assert {type(one).__name__ for one in names.value} == {"IPAddress", "DNSName"}
    assert stat.S_IMODE(made.key.stat().st_mode) == 0o600


def test_the_certificate_is_used_again_while_it_is_good(tmp_path: Path):
    first = certificate_for(NAMES, folder=tmp_path)

    assert certificate_for(NAMES[:2], folder=tmp_path) == first
    assert certificate_for((*NAMES, "192.0.2.8"), folder=tmp_path).fingerprint != first.fingerprint


def test_a_key_that_others_could_read_is_not_used_again(tmp_path: Path):
    first = certificate_for(NAMES, folder=tmp_path)
    first.key.chmod(0o644)

    assert certificate_for(NAMES, folder=tmp_path).fingerprint != first.fingerprint


@pytest.mark.parametrize("name", ["page.crt", "page.key"])
def test_a_damaged_certificate_is_made_anew(tmp_path: Path, name: str):
    first = certificate_for(NAMES, folder=tmp_path)
    (tmp_path / name).write_bytes(b"nonsense")

    assert certificate_for(NAMES, folder=tmp_path).fingerprint != first.fingerprint


def test_on_the_network_a_browser_that_knows_the_certificate_is_content(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(certificate, "own_addresses", lambda: ["192.0.2.7"])
    made = certificate_for(NAMES, folder=tmp_path)
    tls = {"ssl_certfile": str(made.certificate), "ssl_keyfile": str(made.key)}
    with served(tmp_path, tls=tls, lan=True) as page:
        trusting = ssl.create_default_context(cafile=str(made.certificate))
        url = f"https://127.0.0.1:{page.port}"
        with httpx.Client(base_url=url, verify=trusting, headers={"Origin": url}) as browser:
            assert browser.get("/").headers["strict-transport-security"]
            given = browser.post("/pair", data={"code": page.pairing.new_code()}).headers["set-cookie"]
            assert given.startswith("__Host-roomir=")
            assert "secure" in given.lower()
            assert browser.get("/record").status_code == 200
            plain_origin = {"Origin": url.replace("https", "http")}
            assert browser.post("/leave", headers=plain_origin).status_code == 403
        with pytest.raises(httpx.TransportError), httpx.Client() as browser:
            browser.get(f"http://127.0.0.1:{page.port}/")
        with pytest.raises(httpx.ConnectError), httpx.Client() as browser:
            browser.get(url)


def test_a_phone_that_says_no_goodbye_does_not_hold_the_page(tmp_path: Path):
    made = certificate_for(NAMES, folder=tmp_path)
    tls = {"ssl_certfile": str(made.certificate), "ssl_keyfile": str(made.key)}
    page = Served(tmp_path, tls=tls)
    trusting = ssl.create_default_context(cafile=str(made.certificate))
    with (
        socket.create_connection(("127.0.0.1", page.port), timeout=10) as line,
        trusting.wrap_socket(line, server_hostname="127.0.0.1"),
    ):
        began_s = time.monotonic()
        page.stop()

    assert time.monotonic() - began_s < 4


def test_the_network_is_spoken_to_by_tls_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(certificate, "own_addresses", lambda: ["192.0.2.7", "workshop"])
    options: dict[str, Any] = {"logbook": tmp_path / "b", "folder": tmp_path, "port": 8460}
    on_network = serve.settings_for(**options, lan=True)
    alone = serve.settings_for(**options, lan=False)

    assert on_network.scheme == "https"
    assert on_network.link("192.0.2.7", code="abc") == "https://192.0.2.7:8460/#abc"
    assert alone.scheme == "http"
    assert set(alone.hosts) == {"127.0.0.1:8460", "localhost:8460"}


def test_a_computer_on_no_network_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(certificate, "own_addresses", list)
    with pytest.raises(RoomirError, match="no network"):
        serve.settings_for(logbook=tmp_path / "b", folder=tmp_path, port=1, lan=True)


def test_without_lan_nobody_else_can_even_connect():
    listener = serve.listen(port=0, lan=False)
    with listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_a_port_that_is_taken_is_named():
    with serve.listen(port=0, lan=False) as taken, pytest.raises(RoomirError, match="cannot be used"):
        serve.listen(port=taken.getsockname()[1], lan=False)


def test_two_pages_do_not_share_a_logbook(tmp_path: Path):
    with serve.alone(tmp_path), pytest.raises(RoomirError, match="already runs"), serve.alone(tmp_path):
        pass
    with serve.alone(tmp_path):
        pass


@pytest.mark.parametrize("by_enter", [True, False])
def test_the_link_stands_alone_on_a_line(tmp_path: Path, by_enter: bool):
    settings = Settings(logbook=tmp_path, folder=tmp_path, names=("192.0.2.7",), port=8460, secure=True)
    lines = serve._invitation(settings, code="abcdefghjk", by_enter=by_enter)

    assert lines[1] == "https://192.0.2.7:8460/#abcdefghjk"
    assert ("Enter" in lines[0]) == by_enter
    assert lines[-1].count("\n") > 10  # the code to photograph


def test_the_command_prints_its_link_and_ends_when_it_is_told_to(tmp_path: Path):
    command = [sys.executable, "-m", "roomir", "page", "--no-open", "--port=0"]
    with subprocess.Popen(
        [*command, f"--logbook={tmp_path / 'book.sqlite'}"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        link = next(line.strip() for line in process.stdout if line.startswith("http"))
        page, _, code = link.partition("#")
        with httpx.Client(headers={"Origin": page.rstrip("/")}) as browser:
            assert browser.post(f"{page}pair", data={"code": code}).status_code == 303
            assert browser.get(f"{page}record").status_code == 200
        process.send_signal(signal.SIGINT)
        err = process.stderr.read()

    assert "Traceback" not in err
    assert process.returncode in (0, 130, -signal.SIGINT)


def test_a_take_goes_all_the_way_to_its_room_and_its_decays(tmp_path: Path, sample_data: Path):
    take = sample_data / "booth_1_bare.wav"
    json = {"Accept": "application/json"}
    with served(tmp_path) as page, page.paired() as (browser, csrf):
        for outcome in ("kept", "already kept"):
            sent = browser.post(
                "/takes",
                data={"csrf": csrf, "room": "Booth", "stage": "bare", "spot": "A"},
                files={"take": ("memo.wav", take.read_bytes())},
                headers=json,
            ).json()
            while (said := browser.get(f"/takes/{sent['job']}", headers=json).json())["state"] != "done":
                assert said["state"] in ("waiting", "reading"), said
                time.sleep(0.1)
            assert said["result"]["takes"][0]["outcome"] == outcome
            assert said["result"]["takes"][0]["take"]["sha256"] == sent["sha256"][0]
        room = browser.get("/room", params={"room": "Booth", "lot": sent["job"]}).text
        decays = browser.get("/decays", params={"room": "Booth"})
        picture = browser.get("/picture", params={"room": "Booth", "which": "curves"})
        again = browser.get("/decays", params={"room": "Booth"})

    for words in (
        "Already kept: A",
        "Rings for 0.",
        "500 Hz",
        "set aside",
        "peak -",
        "For a better reading",
    ):
        assert words in room
    assert decays.headers["content-type"] == picture.headers["content-type"] == "image/svg+xml"
    assert decays.text.startswith("<svg")
    assert decays.headers["content-encoding"] == "gzip"
    assert int(decays.headers["content-length"]) < len(decays.content) / 3
    assert again.text == decays.text
    assert list((page.settings.folder / "arriving").iterdir()) == []


def test_a_room_without_a_reading_has_no_decays(page: Served):
    with page.paired() as (browser, _):
        assert browser.get("/decays", params={"room": "Booth"}).status_code == 404


def test_few_wait_for_a_picture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    import asyncio

    class What:
        key = "0" * 32

    monkeypatch.setattr("roomir.web.gallery.drawable", lambda *_: What)
    monkeypatch.setattr("roomir.web.gallery._MOST_WAITING", 0)

    assert asyncio.run(Gallery(folder=tmp_path, logbook=tmp_path).decays("Booth")) is None


def test_everything_that_the_page_serves_is_in_the_package():
    from importlib.resources import files

    from roomir.web.app import STATIC

    folder = files("roomir.web").joinpath("static")

    assert {one.name for one in folder.iterdir()} == set(STATIC)


@pytest.mark.parametrize("missing", ["uvicorn", "python_multipart"])
def test_without_its_packages_the_command_says_what_to_install(
    roomir_without: Callable[[str], subprocess.CompletedProcess[str]], missing: str
):
    done = roomir_without(missing)

    assert done.returncode == 1 or done.returncode == 2
    assert "roomir[page]" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ("--logbook={folder}/no_logbook", "no logbook at all"),
        ("--logbook={folder}/no_logbook/deeper", "cannot be used"),
        ("--port=99999", "--port"),
        ("--port=-1", "--port"),
        ("--port={taken}", "cannot be used"),
    ],
)
def test_what_cannot_be_served_is_said_in_a_line_before_anything_is_made(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, what: str, says: str
):
    from roomir.cli.app import main

    (tmp_path / "no_logbook").write_text("This was never a logbook. " * 100)
    with serve.listen(port=0, lan=False) as taken:
        option = what.format(folder=tmp_path, taken=taken.getsockname()[1])
        arguments = ["roomir", "page", "--no-open", "--port=0", option]
        monkeypatch.setenv("ROOMIR_LOGBOOK", str(tmp_path / "new"))
        monkeypatch.setattr(sys, "argv", arguments)
        with pytest.raises(SystemExit) as left:
            main()
    err = capfd.readouterr().err

    assert left.value.code in (1, 2)
    assert says in err
    assert "fault in roomir" not in err
    assert [one.name for one in tmp_path.iterdir()] == ["no_logbook"]


@pytest.fixture
def roomir_without() -> Callable[[str], subprocess.CompletedProcess[str]]:
    def run(missing: str) -> subprocess.CompletedProcess[str]:
        program = (
            f"import sys; sys.modules[{missing!r}] = None; sys.argv = ['roomir', 'page', '--no-open'];"
            "from roomir.cli.app import main; main()"
        )
        return subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, env={**os.environ}, check=False
        )

    return run
