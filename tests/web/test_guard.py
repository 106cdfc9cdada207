"""What stands before every route."""

from __future__ import annotations

import re

import pytest

from roomir.web.guard import HEADERS
from tests.web.served import Served


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "", "a b"]
)
def test_a_name_that_somebody_pointed_here_is_not_served(page: Served, host: str):
    with page.browser() as browser:
        answer = browser.get("/", headers={"Host": host.format(port=page.port)})

    assert answer.status_code in (400, 421)


def test_the_page_knows_its_own_names(page: Served):
    with page.browser() as browser:
        assert browser.get("/", headers={"Host": f"LocalHost:{page.port}"}).status_code == 200


@pytest.mark.parametrize("origin", ["https://evil.example", "null", None, "http://127.0.0.1", "", "file://"])
@pytest.mark.parametrize("path", ["/pair", "/takes", "/another", "/leave", "/takes/abc/answer"])
def test_a_form_of_another_site_is_refused_whatever_it_holds(page: Served, path: str, origin: str | None):
    with page.paired() as (browser, csrf):
        del browser.headers["Origin"]
        headers = {} if origin is None else {"Origin": origin}
        answer = browser.post(path, data={"csrf": csrf, "code": page.pairing.new_code()}, headers=headers)

    assert answer.status_code == 403


def test_the_right_origin_over_the_wrong_scheme_is_foreign(page: Served):
    with page.browser() as browser:
        answer = browser.post(
            "/pair", data={"code": "x"}, headers={"Origin": page.url.replace("http", "https")}
        )

    assert answer.status_code == 403
    assert "Only this page's own forms" in answer.text


@pytest.mark.parametrize("path", ["/another", "/leave", "/takes/abc/answer"])
@pytest.mark.parametrize("csrf", ["", "wrong", "\u00e4", None])
def test_a_form_without_its_token_is_refused(page: Served, path: str, csrf: str | None):
    with page.paired() as (browser, _):
        answer = browser.post(path, data={} if csrf is None else {"csrf": csrf})

    assert answer.status_code == 403


def test_the_token_of_another_browser_is_refused(page: Served):
    with page.paired() as (_, csrf_of_one), page.paired(fresh=True) as (other, _):
        assert other.post("/leave", data={"csrf": csrf_of_one}).status_code == 403


@pytest.mark.parametrize(
    "path",
    [
        *("/nothing", "/static/", "/static/app.py", "/static/../app.py", "/static/%2e%2e%2fapp.py"),
        *("/static/%2e%2e/%2e%2e/cli/app.py", "/static//etc/passwd", "/record/", "/takes/a/b/c", "/takes"),
        *("/docs", "/openapi.json", "/favicon.ico", "/%00", "/%ff"),
    ],
)
@pytest.mark.parametrize("is_paired", [False, True])
def test_there_is_nothing_outside_its_own_routes(page: Served, path: str, is_paired: bool):
    with page.browser() as stranger, page.paired() as (browser, _):
        answer = (browser if is_paired else stranger).get(path)

    assert answer.status_code in (404, 405)


def test_head_is_answered_like_get_without_the_text(page: Served):
    with page.paired() as (browser, _):
        assert browser.head("/record").status_code == 200
        assert browser.head("/nothing").status_code == 404
    with page.browser() as stranger:
        assert stranger.head("/record").status_code == 303


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_other_methods_are_not_served(page: Served, method: str):
    with page.paired() as (browser, _):
        assert browser.request(method, "/record").status_code == 405


@pytest.mark.parametrize(
    ("method", "path", "headers"),
    [
        ("GET", "/", {}),
        ("GET", "/record", {}),
        ("GET", "/nothing", {}),
        ("GET", "/static/page.css", {}),
        ("GET", "/", {"Host": "evil.example"}),
        ("POST", "/pair", {"Origin": "null"}),
    ],
)
def test_every_answer_tells_browsers_to_keep_others_out(
    page: Served, method: str, path: str, headers: dict[str, str]
):
    with page.browser() as browser:
        answer = browser.request(method, path, headers=headers)

    assert HEADERS.items() <= {name: answer.headers.get(name) for name in HEADERS}.items()
    assert answer.headers["cache-control"] == "no-store"
    policy = answer.headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert answer.headers["referrer-policy"] == "no-referrer"


def test_a_fault_of_our_own_is_answered_with_the_same_protection_and_without_its_reason(
    page: Served, monkeypatch: pytest.MonkeyPatch
):
    def breaks(**_: object) -> str:
        raise RuntimeError("/home/somebody/secret")

    with page.paired() as (browser, _):
        monkeypatch.setattr(page.page._pages, "home", breaks)
        answer = browser.get("/")

    assert answer.status_code == 500
    assert HEADERS.items() <= {name: answer.headers.get(name) for name in HEADERS}.items()
    assert "secret" not in answer.text


@pytest.mark.parametrize("path", ["/", "/record"])
def test_no_page_holds_script_or_looks_of_its_own_or_of_others(page: Served, path: str):
    with page.paired() as (browser, _):
        text = browser.get(path).text

    assert text.count("<script") == text.count('<script src="/static/')
    assert "<style" not in text
    assert " style=" not in text
    assert not re.search(r"<[^>]* on[a-z]+=", text)
    assert "//" not in text.replace("<!doctype html>", "").replace(page.url, "")
