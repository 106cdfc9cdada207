"""The page of a room: what it says, what it needs, and what names can do to it. All rooms invented."""

import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser

import pytest

from roomir.compare.aim import aim_at
from roomir.report.figures.changes import change_strips
from roomir.report.figures.inline import inline_svg
from roomir.report.page import room_page
from roomir.report.page_view import page_view
from roomir.report.unit_system import US
from roomir.rooms.targets import find_target
from tests.compare.stories import room, stage, story
from tests.readings import CLIPPED, nothing_read, take

NASTY = "</script><script>alert(1)</script><img src=x onerror=alert(1)>\x1b[2J"


class Reader(HTMLParser):
    """Tags, attributes and words of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: Counter[str] = Counter()
        self.attributes: list[tuple[str, str]] = []
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags[tag] += 1
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.words += data


@pytest.fixture(scope="module")
def told():
    return story()


@pytest.fixture(scope="module")
def page(told):
    target = find_target("live room")
    aims = [aim_at(target, one.reading, volume_m3=60.0) for one in told.stages]
    return room_page(told, aims=aims, now=datetime(2025, 5, 4, tzinfo=UTC))


def test_the_answer_comes_first(page):
    words = " ".join(Reader(page).words.split())
    after_title = words[words.index("shed, 5 x 4 x 3 m", words.index("How long")) :]
    assert after_title.startswith("shed, 5 x 4 x 3 m Rings for 0.500 s")
    assert "Since bare, changed: shorter at 125 Hz to 8 kHz, by 58 %" in words
    assert "Target: live room (0.4 to 0.8 s): reached in all 6 bands." in words


def test_everything_that_belongs_on_it_is_there(page):
    words = " ".join(Reader(page).words.split())
    for said in (
        *("The story", "boards on two walls", "2024-03-02", "Before and after: bare to panels"),
        *("Absorption added m2", "Against the target", "Now: panels", "How it was measured"),
        *(
            "60.0 m3",
            "box of 5 x 4 x 3 m",
            "temperature 18 degC, humidity 55 %",
            "hands; not omnidirectional",
        ),
        "Number of positions as for a survey; source not omnidirectional, so not a measurement under ISO",
        *("Cautions", "hearing protection", "Mineral wool", "2025-05-04"),
    ):
        assert said in words, said
    assert Reader(page).tags["svg"] == 3


def test_the_page_needs_nothing_and_runs_nothing(page):
    found = Reader(page)
    assert not found.tags["script"]
    assert not found.tags["link"]
    for name, value in found.attributes:
        assert not name.startswith("on")
        if name in ("src", "href", "xlink:href", "action"):
            assert value.startswith("#"), value
    assert "@import" not in page
    assert "url(http" not in page
    ids = [value for name, value in found.attributes if name == "id"]
    assert len(set(ids)) == len(ids)
    wanted = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', page))
    assert wanted <= set(ids)


def test_names_are_text_and_nothing_else():
    sour = take(NASTY, concerns=(CLIPPED,))
    made = room(0.5)
    told = story(
        room=NASTY,
        note=NASTY,
        stages=[
            stage(NASTY, room(1.2), done=NASTY, note=NASTY, sources=(NASTY,)),
            stage("now " + NASTY, made, positions=tuple([NASTY] * 5), sources=(NASTY,)),
            stage("last", nothing_read(), takes=(), positions=(), done=sour.path),
        ],
    )
    found = Reader(room_page(told))
    assert not found.tags["script"]
    assert not found.tags["img"]
    assert "\x1b" not in found.words
    assert "alert(1)" in found.words


@pytest.mark.parametrize("stages", [[], [stage("bare", room(1.2))], [stage("noise", nothing_read())]])
def test_a_room_of_which_little_is_known_has_a_page_too(stages):
    page = room_page(story(stages=stages, volume_m3=None, dimensions_m=None))
    assert "How it was measured" in page
    assert "nan" not in Reader(page).words.lower().split()


def test_the_same_strips_make_the_same_picture(told):
    first, second = (inline_svg(change_strips(told.first_to_last), salt="x") for _ in range(2))
    assert first == second
    assert first.startswith("<svg")
    assert "<text" not in first  # shapes need no font


def test_names_in_what_limits_a_comparison_are_spelt_out_too():
    twice = room(0.5, spots=1)
    twice = replace(twice, takes=(take("\x1b[31mred.wav", sha256="s"),))
    page = room_page(story(stages=[stage("a", twice), stage("b", twice)]))
    assert "the same sound stands on both sides: " in page.lower()
    assert "\x1b" not in page


def test_sizes_are_in_the_units_that_were_asked_for(told):
    view = page_view(told, units=US)
    assert view.title == "shed, 16.4 x 13.1 x 9.8 ft"
    assert view.change.absorption == "sabins"
    metric = page_view(told)
    # One sabin is a square foot: 0.0929 m2.
    sabins, m2 = (float(one.change.rows[0].added) for one in (view, metric))
    assert sabins * 0.0929 == pytest.approx(m2, rel=0.05)


@pytest.mark.parametrize(
    ("spots", "grade"), [(1, "Fewer positions"), (2, "as for a survey"), (6, "as for an engineering")]
)
def test_the_deviation_is_said_plainly(spots, grade):
    view = page_view(story(stages=[stage("now", room(0.5, spots=spots))]))
    assert grade in view.deviation
    assert view.deviation.endswith("so not a measurement under ISO 3382-2.")
