"""Places for phone and clap keep what can be kept of the standard's distances. Rooms are invented."""

from __future__ import annotations

import math

import pytest

from roomir.errors import ParameterError
from roomir.rooms.places import FROM_SURFACES_M, places

ROOMS_M = [
    (9.0, 6.0, 3.2),
    (5.0, 4.0, 2.4),
    (4.0, 5.0, 2.4),
    (3.2, 2.6, 2.5),
    (2.0, 1.5, 2.2),
    (30.0, 4.0, 3.0),
]


@pytest.mark.parametrize("room_m", ROOMS_M)
def test_places_lie_inside_apart_and_off_the_middle(room_m: tuple[float, float, float]):
    floor = places(room_m)
    long_m, short_m = sorted(room_m[:2], reverse=True)

    assert len(set(floor.at_m)) == 4
    for x, y in floor.at_m:
        assert floor.from_walls_m <= min(x, long_m - x, y, short_m - y) + 1e-9
    assert floor.apart_m == min(math.dist(a, b) for a in floor.at_m for b in floor.at_m if a != b)
    if short_m >= 4.0:
        assert floor.from_walls_m >= FROM_SURFACES_M
        assert floor.apart_m >= 2.0
        for x, y in floor.at_m:
            assert abs(x - long_m / 2) >= 0.25
            assert abs(y - short_m / 2) >= 0.25


def test_as_many_places_as_are_asked_for():
    assert len(places((9.0, 6.0, 3.2), n=8).at_m) == 8


@pytest.mark.parametrize("bad", [(0.0, 4.0, 2.4), (5.0, -1.0, 2.4), (5.0, 4.0, math.inf)])
def test_a_room_without_size_is_refused(bad: tuple[float, float, float]):
    with pytest.raises(ParameterError):
        places(bad)
