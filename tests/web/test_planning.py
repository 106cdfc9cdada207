"""Planning in the browser: what is described, what is worked out, and what strangers send."""

from __future__ import annotations

import asyncio
import html
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from roomir import api, planning
from roomir.logbook.names import use_new
from roomir.logbook.values import Size
from roomir.report.planning.proposal import proposal_document
from roomir.report.planning.reasons import percent
from roomir.report.wording import printable
from roomir.web import workshop
from tests.plan.rooms import box_text
from tests.web.served import Served, served
from tests.web.test_forms import HOSTILE, NONSENSE

BOARDS = "gypsum board 2 x 13 mm on steel frame"
FIELDS = {
    "length": "2.4",
    "width": "2",
    "height": "2.2",
    "floor": "wood floor on joists",
    "ceiling": BOARDS,
    **{f"{side}-wall": BOARDS for side in ("west", "east", "south", "north")},
    "door-area": "1.6",
    "door": "solid wooden door",
    "window-area": "",
    "window": "window glass, ordinary",
    "temperature": "18",
    "humidity": "55",
}
TARGET = "practice room"


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory, sample_data: Path) -> Iterator[Served]:
    """A page with a booth that was read, and rooms of which nothing is known but their names."""
    folder = tmp_path_factory.mktemp("plans")
    with api.open_logbook(folder / "book.sqlite", create=True) as book:
        size = Size(dimensions_m=(2.4, 2.0, 2.2))
        book.log([sample_data / "booth_2_lined.wav"], room="booth", stage="lined", size=size)
        for name in HOSTILE:
            hopeless = folder / "hopeless.wav"
            hopeless.write_bytes(b"no sound " + name.encode())
            book.log([hopeless], room=name, stage=name, decide=use_new)
    with served(folder) as one:
        yield one


@pytest.fixture
def makes(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Let nothing be worked out; what would have been is listed."""
    asked: list[list[str]] = []

    async def run(module: str, arguments: list[str], **_: Any) -> tuple[int, bytes, bytes]:
        assert module == "roomir.web.plan_work"
        asked.append(arguments)
        Path(arguments[-1], "view.json").write_text(json.dumps({"failed": "nothing was tried"}))
        return 0, b"", b""

    monkeypatch.setattr(workshop, "run_apart", run)
    return asked


def _kept(page: Served, room: str) -> str:
    with api.open_logbook(page.settings.logbook) as book:
        return book.room(room).description


def _describe(page: Served, room: str, **fields: str) -> httpx.Response:
    with page.paired() as (browser, csrf):
        return browser.post("/plan/room", data={"csrf": csrf, "room": room, "how": "form"} | FIELDS | fields)


def _send_file(page: Served, room: str, text: bytes) -> httpx.Response:
    with page.paired() as (browser, csrf):
        data = {"csrf": csrf, "room": room, "how": "file"}
        return browser.post("/plan/room", data=data, files={"file": ("../../x.toml", text)})


def _wrong_at(text: str, field: str) -> str:
    """What stands at a field, which says so to those who cannot see it too."""
    assert re.search(rf'name="{field}"[^>]* aria-invalid="true" aria-describedby="wrong-{field}"', text)
    return html.unescape(text.split(f'id="wrong-{field}">')[1].split("<")[0])


# ------------------------------------------------------------------ who may


def test_planning_is_for_paired_browsers_alone(plans: Served):
    with plans.browser() as stranger:
        for path in ("/plan?room=booth", f"/plan/made/{'0' * 32}/now.wav"):
            assert stranger.get(path).status_code == 303
        assert stranger.post("/plan/room", data={"room": "booth"} | FIELDS).status_code == 403


@pytest.mark.parametrize(
    ("origin", "csrf"), [("https://evil.example", None), ("null", None), (None, ""), (None, "x" * 48)]
)
def test_a_description_comes_from_the_pages_own_form(plans: Served, origin: str | None, csrf: str | None):
    with plans.paired() as (browser, own):
        answer = browser.post(
            "/plan/room",
            data={"csrf": own if csrf is None else csrf, "room": "--help", "how": "form"} | FIELDS,
            headers={} if origin is None else {"Origin": origin},
        )

    assert answer.status_code == 403
    assert _kept(plans, "--help") == ""


@pytest.mark.parametrize("what", NONSENSE)
def test_nonsense_for_a_description_is_a_refusal(plans: Served, what: str):
    kind, body = NONSENSE[what]
    with plans.paired() as (browser, _):
        try:
            status = browser.post("/plan/room", content=body, headers={b"Content-Type": kind}).status_code
        except httpx.TransportError:  # cut off while it still came
            status = 413

    assert 400 <= status < 500


def test_a_description_that_is_too_large_is_refused(plans: Served):
    try:
        status = _send_file(plans, "booth", b"#" * 100_000).status_code
    except httpx.TransportError:
        status = 413

    assert status == 413


@pytest.mark.parametrize(
    "path",
    [
        *(f"{'0' * 32}/now.wav", "../../book.sqlite/now.wav", f"{'0' * 32}/view.json", "x/now.wav"),
        *(f"{'0' * 31}g/now.wav", "%2e%2e/now.wav", f"{'0' * 32}/%2e%2e%2fview.json", "/now.wav"),
    ],
)
def test_of_plans_only_their_own_pictures_and_sounds_are_served(plans: Served, path: str):
    folder = plans.settings.folder / "plans" / ("0" * 32)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "view.json").write_text("{}")
    with plans.paired() as (browser, _):
        assert browser.get(f"/plan/made/{path}").status_code == 404


@pytest.mark.parametrize("target", ["/etc/passwd", "../x.toml", "0.2-0.3", "nothing"])
def test_no_file_is_opened_as_a_target_of_a_plan(plans: Served, makes: list[list[str]], target: str):
    with plans.paired() as (browser, _):
        answer = browser.get("/plan", params={"room": "booth", "target": target})

    assert answer.status_code == 400
    assert makes == []


def test_a_room_that_is_not_there_cannot_be_planned(plans: Served):
    with plans.paired() as (browser, _):
        assert browser.get("/plan?room=nowhere").status_code == 404
        assert browser.get("/plan?room=booth&least=cost").status_code == 400
    assert _describe(plans, "nowhere").status_code == 404


# ------------------------------------------------------------------ names and texts are nothing else


def test_names_are_text_in_a_plan(plans: Served, makes: list[list[str]]):
    with plans.paired() as (browser, _):
        for name in HOSTILE:
            text = browser.get("/plan", params={"room": name, "target": TARGET}).text
            assert html.escape(printable(name)).replace("&#x27;", "&#39;").replace("&quot;", "&#34;") in text
            for bad in ("<script>", "<img src=x", "' onmouseover='", '"><img'):
                assert bad not in text
    assert [one[1] for one in makes] == list(HOSTILE)


@pytest.mark.parametrize("name", HOSTILE)
def test_what_a_description_calls_things_is_text(plans: Served, makes: list[list[str]], name: str):
    text = box_text().replace('name = "ceiling"', f"name = {json.dumps(name, ensure_ascii=False)}")
    assert _send_file(plans, "-rf", text.encode()).status_code == 303
    with plans.paired() as (browser, _):
        page = browser.get("/plan", params={"room": "-rf"}).text

    for bad in ("<script>", "<img src=x", "' onmouseover='", '"><img'):
        assert bad not in page
    assert makes


def test_a_plan_holds_no_script_and_no_looks_of_its_own(plans: Served, makes: list[list[str]]):
    with plans.paired() as (browser, _):
        answer = browser.get("/plan", params={"room": "booth", "target": TARGET})
    text = answer.text

    assert "<script" not in text
    assert "<style" not in text
    assert " style=" not in text
    assert not re.search(r"<[^>]* on[a-z]+=", text)
    assert "media-src 'self'" in answer.headers["content-security-policy"]
    assert makes


def test_every_field_of_the_form_has_its_label(plans: Served, makes: list[list[str]]):
    with plans.paired() as (browser, _):
        text = browser.get("/plan?room=booth").text
    fields = re.findall(r'<(?:input|select) (?![^>]*type="hidden")[^>]*id="([^"]+)"', text)

    assert len(fields) > 15
    assert set(fields) <= set(re.findall(r'<label [^>]*for="([^"]+)"', text))
    assert len(set(fields)) == len(fields)
    assert not makes  # neither target nor description


# ------------------------------------------------------------------ wrong input


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("length", "", "length"),
        ("length", "five", "length"),
        ("width", "0.1", "no room's"),
        ("height", "1e400", ""),
        ("height", "nan", ""),
        ("west-wall", "", "Nothing is chosen"),
        ("floor", "cheese", 'no material called "cheese"'),
        ("ceiling", "standing adult", "is no surface"),
        ("door-area", "99", "The west wall has only 4.4 m2"),
        ("window-area", "-1", ""),
        ("temperature", "400", "number from -20 to 50"),
        ("humidity", "damp", "number from 1 to 100"),
    ],
)
def test_wrong_input_is_told_in_one_line_at_its_field(plans: Served, field: str, typed: str, says: str):
    answer = _describe(plans, "--help", **{field: typed})

    assert answer.status_code == 400
    said = _wrong_at(answer.text, field)
    assert says.lower() in said.lower()
    assert said.endswith(".")
    assert "\n" not in said
    assert answer.text.count('aria-invalid="true"') == 1
    assert _kept(plans, "--help") == ""


def test_what_was_typed_stays_in_the_form(plans: Served):
    text = _describe(plans, "--help", length='"><img src=x>', width="3.33").text

    assert 'value="3.33"' in text
    assert "<img src=x" not in text
    assert f"<option selected>{BOARDS}</option>" in text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"", "No file was chosen"),
        (b"\xff\xfe\x00", "no text in UTF-8"),
        (b"[room\n", "is no TOML"),
        (b"[room]\nname = 'x'\n", "room.dimensions_m is missing"),
        (b"[room]\nname = 'a\0b'\n", ""),
        (b"a = " + b"[" * 5000, "is no TOML"),
        (
            box_text().replace('name = "room"', 'name = "x"\nmaterials = "/etc/passwd"', 1).encode(),
            "another file",
        ),
        (box_text().replace("parquet on concrete", "cheese").encode(), 'no material called "cheese"'),
    ],
)
def test_a_wrong_room_file_is_told_at_its_field(plans: Served, text: bytes, says: str):
    answer = _send_file(plans, "--help", text)

    assert answer.status_code == 400
    assert says in _wrong_at(answer.text, "file")
    assert _kept(plans, "--help") == ""


def test_every_fault_of_a_room_file_has_a_line(plans: Served):
    text = box_text().replace("parquet on concrete", "cheese").replace('facing = "x"', 'facing = "q"')
    answer = _send_file(plans, "--help", text.encode())

    assert answer.text.count("facing is ") == 2
    assert "cheese" in answer.text


# ------------------------------------------------------------------ from the form to the plan


def test_a_form_without_script_makes_a_room_without_gaps_or_overlaps(plans: Served):
    sent = _describe(plans, "booth", target="voice booth")
    room, _ = planning.described_room(_kept(plans, "booth"), name="booth")

    assert sent.status_code == 303
    assert sent.headers["location"] == "/plan?room=booth&target=voice+booth"
    assert room.remarks == ()
    assert (room.dimensions_m, room.temperature_c) == ((2.4, 2.0, 2.2), 18.0)
    by_name = {surface.name: surface for surface in room.surfaces}
    assert [patch.area_m2 for patch in by_name["west wall"].patches] == pytest.approx([2.8, 1.6])
    assert by_name["floor"].ground.material == "wood floor on joists"


def test_a_plan_has_the_numbers_that_treat_proposes(plans: Served):
    text = box_text((2.4, 2.0, 2.2), walls=BOARDS, ceiling=BOARDS, floor="wood floor on joists")
    # Fewer walls to hang on are worked out sooner.
    text = text.replace('facing = "x"', 'facing = "x"\nkeep_live = true')
    text = text.replace('name = "south wall"', 'name = "south wall"\nkeep_live = true')
    assert _send_file(plans, "booth", text.encode()).status_code == 303
    there = "/plan?room=booth&target=voice+booth"
    with plans.paired() as (browser, _):
        for _ in range(100):
            text = browser.get(there).text
            if 'http-equiv="refresh"' not in text:
                break
            assert "This page goes on by itself" in text
        pictures = re.findall(r'<img src="(/plan/made/[^"]+)"', text)
        assert {browser.get(one).headers["content-type"] for one in pictures} == {"image/svg+xml"}

    proposal = planning.treat("booth", target="voice booth", logbook=plans.settings.logbook)
    document = proposal_document(proposal)
    assert len(pictures) == 2
    words = html.unescape(re.sub(r"<[^>]+>", " ", text))
    words = " ".join(words.split())
    for item in document["items"]:
        assert f"{item['count']} x {item['absorber']} {item['mounting']} {item['area_m2']:.1f} m2" in words
    for band in document["bands"]:
        low, high = band["target_s"]
        assert f"{low:.2f} to {high:.2f} {band['now_s']:.2f}" in words
        assert f"({percent(band['probability'])} %)" in words
    assert "Prediction against reading" in words


def test_a_kept_description_fills_the_form(plans: Served, makes: list[list[str]]):
    assert _describe(plans, "--help", humidity="41").status_code == 303
    with plans.paired() as (browser, _):
        text = browser.get("/plan", params={"room": "--help"}).text

    for value in ("2.4", "2.2", "1.6", "41"):
        assert f'value="{value}"' in text
    assert text.count(f"<option selected>{BOARDS}</option>") == 5
    assert makes[-1][1:5] == ["--help", "", "area", "none"]


def test_players_are_served_in_pieces(plans: Served):
    folder = plans.settings.folder / "plans" / ("1" * 32)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "now.wav").write_bytes(b"RIFFxxxxWAVE")
    with plans.paired() as (browser, _):
        answer = browser.get(f"/plan/made/{'1' * 32}/now.wav", headers={"Range": "bytes=8-11"})

    assert (answer.status_code, answer.content) == (206, b"WAVE")
    assert answer.headers["content-type"] == "audio/wav"


# ------------------------------------------------------------------ work has its limits


@pytest.mark.parametrize(
    ("outcome", "says"),
    [
        ((1, b"", b"Traceback /home/somebody/secret"), "ran out of memory or time"),
        ((-9, b"", b""), "ran out of memory or time"),
        ((0, b"", b""), "nothing to plan with"),
        (TimeoutError(), "took too long"),
    ],
)
def test_a_plan_that_fails_says_why_and_nothing_about_the_computer(
    plans: Served, monkeypatch: pytest.MonkeyPatch, outcome: Any, says: str
):
    async def run(*_: Any, **__: Any) -> Any:
        if isinstance(outcome, Exception):
            raise outcome
        return outcome

    monkeypatch.setattr(workshop, "run_apart", run)
    with plans.paired() as (browser, _):
        text = browser.get("/plan", params={"room": "booth", "target": "live room"}).text

    assert says in text
    assert "secret" not in text
    assert list((plans.settings.folder / "plans").glob("*.part")) == []


def test_a_plan_that_takes_long_is_waited_for_and_too_many_are_refused(
    plans: Served, monkeypatch: pytest.MonkeyPatch
):
    async def run(*_: Any, **__: Any) -> tuple[int, bytes, bytes]:
        await asyncio.sleep(1.0)
        return -9, b"", b""

    monkeypatch.setattr(workshop, "run_apart", run)
    monkeypatch.setattr(workshop, "_PATIENCE_S", 0.01)
    monkeypatch.setattr(workshop, "MOST_WAITING", 1)
    with plans.paired() as (browser, _):
        first = browser.get("/plan", params={"room": "booth", "target": "drum room"})
        second = browser.get("/plan", params={"room": "booth", "target": "pop studio"})
        again = browser.get("/plan", params={"room": "booth", "target": "drum room"})
        monkeypatch.setattr(workshop, "_PATIENCE_S", 20.0)
        last = browser.get("/plan", params={"room": "booth", "target": "drum room"})

    assert 'http-equiv="refresh"' in first.text
    assert 'role="status"' in first.text
    assert (second.status_code, "Retry-After" in second.headers) == (503, True)
    assert 'http-equiv="refresh"' in again.text
    assert "ran out of memory or time" in last.text


def test_only_so_many_plans_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    async def run(_: str, arguments: list[str], **__: Any) -> tuple[int, bytes, bytes]:
        Path(arguments[-1], "view.json").write_text("{}")
        return 0, b"", b""

    monkeypatch.setattr(workshop, "run_apart", run)
    monkeypatch.setattr(workshop, "_MOST_KEPT", 3)

    async def make() -> None:
        shop = workshop.Workshop(folder=tmp_path, logbook=tmp_path / "book")
        for i in range(8):
            assert await shop.make(f"{i:032x}", room="r", target="", least="area", with_players=False) == {}

    asyncio.run(make())
    assert len(list(tmp_path.iterdir())) == 3


def test_whoever_leaves_before_a_plan_is_made_leaves_no_place_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    async def run(*_: Any, **__: Any) -> tuple[int, bytes, bytes]:
        return -9, b"", b""

    monkeypatch.setattr(workshop, "run_apart", run)
    monkeypatch.setattr(workshop, "_PATIENCE_S", 0.0)

    async def leave() -> None:
        shop = workshop.Workshop(folder=tmp_path, logbook=tmp_path / "book")
        for i in range(3 * workshop.MOST_WAITING):
            await shop.make(f"{i:032x}", room="r", target="", least="area", with_players=False)
            await asyncio.sleep(0.01)
        assert not shop.is_full
        assert await shop.make(f"{0:032x}", room="r", target="", least="area", with_players=False) == {
            "failed": "The computer ran out of memory or time over it: describe fewer surfaces."
        }

    asyncio.run(leave())
