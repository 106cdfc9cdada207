"""Who gets in: the code on the screen, and what it is exchanged for."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from roomir.web.pairing import CODE_LASTS_S, LETTERS, MOST_TRIES, SESSION_LASTS_S, Pairing, Sessions
from tests.web.served import Served, served

PATHS = (
    *("/record", "/room", "/room?room=x", "/picture?room=x&which=curves", "/decays?room=x", "/takes/abc"),
    *("/static/record.js", "/static/takes.js", "/static/send.js", "/static/meter.js"),
)


class Clock:
    now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


def test_a_code_is_long_and_has_no_letters_that_look_alike():
    code = Pairing().new_code()

    assert len(code) >= 8
    assert set(code) <= set(LETTERS)
    assert not set("il1o0") & set(LETTERS)


def test_a_code_is_good_once():
    pairing = Pairing()
    code = pairing.new_code()

    assert pairing.redeem(code)
    assert not pairing.redeem(code)


def test_a_code_may_be_typed_in_capitals_and_with_spaces():
    pairing = Pairing()
    code = pairing.new_code()

    assert pairing.redeem(f" {code[:5].upper()} {code[5:]}\n")


def test_a_code_is_good_for_five_minutes():
    clock = Clock()
    pairing = Pairing(clock=clock)
    code = pairing.new_code()
    clock.now_s += CODE_LASTS_S + 1

    assert not pairing.redeem(code)


def test_a_code_stands_five_tries():
    pairing = Pairing()
    code = pairing.new_code()
    assert not any(pairing.redeem("wrong") for _ in range(MOST_TRIES))

    assert not pairing.redeem(code)


def test_the_fifth_try_may_still_be_the_right_one():
    pairing = Pairing()
    code = pairing.new_code()
    for _ in range(MOST_TRIES - 1):
        assert not pairing.redeem("wrong")

    assert pairing.redeem(code)


def test_a_new_code_voids_the_one_before():
    pairing = Pairing()
    before = pairing.new_code()
    pairing.new_code()

    assert not pairing.redeem(before)


def test_a_stolen_list_of_browsers_lets_nobody_in(tmp_path: Path):
    sessions = Sessions(tmp_path / "browsers.json")
    cookie = sessions.begin()
    kept = (tmp_path / "browsers.json").read_text()

    assert cookie not in kept
    assert not any(sessions.find(name) for name in json.loads(kept)["until"])
    assert (tmp_path / "browsers.json").stat().st_mode & 0o077 == 0


def test_a_phone_is_still_known_after_a_restart_and_so_are_its_open_forms(tmp_path: Path):
    cookie = (first := Sessions(tmp_path / "browsers.json")).begin()
    again = Sessions(tmp_path / "browsers.json").find(cookie)

    assert again is not None
    assert again == first.find(cookie)


def test_a_session_ends_by_itself(tmp_path: Path):
    clock = Clock()
    sessions = Sessions(tmp_path / "browsers.json", clock=clock)
    cookie = sessions.begin()
    clock.now_s += SESSION_LASTS_S + 1

    assert sessions.find(cookie) is None


@pytest.mark.parametrize("text", ["", "nonsense", "[]", '{"secret": "zz", "until": {}}', '{"until": 3}'])
def test_a_damaged_list_of_browsers_counts_as_empty(tmp_path: Path, text: str):
    (tmp_path / "browsers.json").write_text(text)

    sessions = Sessions(tmp_path / "browsers.json")

    assert sessions.find(sessions.begin()) is not None


# ------------------------------------------------------------------ over the wire


@pytest.mark.parametrize("path", PATHS)
def test_an_unpaired_browser_is_served_nothing_but_the_pairing_page(page: Served, path: str):
    with page.browser() as browser:
        answer = browser.get(path)
        asked_by_script = browser.get(path, headers={"Accept": "application/json"})

    assert answer.status_code in (303, 404)
    assert answer.headers.get("location", "/") == "/"
    assert asked_by_script.status_code in (403, 404)


@pytest.mark.parametrize("path", ["/takes", "/takes/abc/answer", "/another", "/leave"])
def test_an_unpaired_browser_sends_nothing(page: Served, path: str):
    with page.browser() as browser:
        assert browser.post(path, files={"take": b"RIFF"}).status_code == 403


def test_the_cookie_is_for_the_browser_alone(page: Served):
    with page.browser() as browser:
        given = browser.post("/pair", data={"code": page.pairing.new_code()}).headers["set-cookie"].lower()

    assert "httponly" in given
    assert "samesite=strict" in given
    assert "path=/" in given
    assert "domain=" not in given


def test_five_wrong_codes_and_the_right_one_is_void(page: Served):
    code = page.pairing.new_code()
    with page.browser() as browser:
        for _ in range(MOST_TRIES):
            assert browser.post("/pair", data={"code": "aaaaaaaaaa"}).status_code == 403

        assert browser.post("/pair", data={"code": code}).status_code == 403


def test_a_paired_browser_makes_a_code_for_another_and_the_computer_shows_it(page: Served):
    with page.paired() as (browser, csrf), page.browser() as other:
        said = browser.post("/another", data={"csrf": csrf}).text

        assert page.told[-1] in said
        assert other.post("/pair", data={"code": page.told[-1]}).status_code == 303


def test_a_browser_that_leaves_is_forgotten(page: Served):
    with page.paired(fresh=True) as (browser, csrf):
        cookies = dict(browser.cookies)
        browser.post("/leave", data={"csrf": csrf})

        assert browser.get("/record", cookies=None).status_code == 303
    with page.browser(Cookie="; ".join(f"{k}={v}" for k, v in cookies.items())) as thief:
        assert thief.get("/record").status_code == 303


def test_a_paired_browser_gets_on_after_a_restart_with_the_form_it_had_open(
    tmp_path: Path, reads_nothing: list[list[str]]
):
    assert reads_nothing == []
    with served(tmp_path) as first, first.paired() as (browser, csrf):
        cookies, port = dict(browser.cookies), first.port
    with served(tmp_path, port=port) as again, again.browser() as browser:
        browser.cookies.update(cookies)
        sent = browser.post(
            "/takes", data={"csrf": csrf, "room": "r", "stage": "s"}, files={"take": ("a.wav", b"sound")}
        )

    assert sent.status_code == 303
