"""The plain form that describes a box: what was typed, what is wrong with it, the room file it makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from roomir.errors import ParameterError
from roomir.remarks import Remark
from roomir.report.wording import said_and_done
from roomir.rooms.new_room import WALLS, Answers, room_text
from roomir.units import parse_area_m2, parse_length_m

if TYPE_CHECKING:
    from roomir.rooms.description import Room
    from roomir.rooms.materials import Materials

_T = TypeVar("_T")

LENGTHS = ("length", "width", "height")
SURFACES = (*(name for name, _ in WALLS), "floor", "ceiling")
OPENINGS = ("door", "window")
_OPENING_IS = {"door": "solid wooden door", "window": "window glass, ordinary"}
_CLIMATE = {"temperature": (-20.0, 50.0, 20.0), "humidity": (1.0, 100.0, 50.0)}
_LEAST_M, _MOST_M = 0.5, 100.0


@dataclass(slots=True)
class RoomForm:
    """The form as it stands.

    Attributes
    ----------
    values : dict of str to str
        What stands in each field.
    wrong : dict of str to str
        What is wrong with a field, and the remedy.
    others : list of str
        What is wrong beside that.
    """

    values: dict[str, str] = field(default_factory=dict)
    wrong: dict[str, str] = field(default_factory=dict)
    others: list[str] = field(default_factory=list)

    @property
    def is_wrong(self) -> bool:
        """Whether anything is."""
        return bool(self.wrong or self.others)


def key_of(surface: str) -> str:
    """Name the field of a surface or an opening.

    Examples
    --------
    >>> key_of("west wall")
    'west-wall'
    """
    return surface.replace(" ", "-")


def empty_form(*, dimensions_m: tuple[float, float, float] | None) -> RoomForm:
    """Begin a form with what the logbook knows."""
    values = {} if dimensions_m is None else dict(zip(LENGTHS, map(_figure, dimensions_m), strict=True))
    return RoomForm(values=_with_usual(values))


def form_of(room: Room, *, materials: Materials) -> RoomForm:
    """Fill the form with a room as far as the form can say it."""
    values: dict[str, str] = {}
    if room.dimensions_m is not None:
        values |= dict(zip(LENGTHS, map(_figure, room.dimensions_m), strict=True))
    by_name = {surface.name: surface for surface in room.surfaces}
    for name in SURFACES:
        if name in by_name and by_name[name].ground.material in materials:
            values[key_of(name)] = by_name[name].ground.material
    for opening, wall in zip(OPENINGS, ("west wall", "south wall"), strict=True):
        parts = by_name[wall].patches[1:] if wall in by_name else ()
        if len(parts) == 1 and parts[0].material in materials:
            values |= {opening: parts[0].material, f"{opening}-area": _figure(parts[0].area_m2)}
    values |= {"temperature": _figure(room.temperature_c), "humidity": _figure(room.humidity_percent)}
    return RoomForm(values=_with_usual(values))


def filled(typed: Mapping[str, str], *, name: str, materials: Materials) -> tuple[RoomForm, str]:
    """Take what was typed and make a room file of it.

    Parameters
    ----------
    typed : mapping of str to str
        By the name of the field.
    name : str
        Of the room.
    materials : Materials
        What surfaces may be made of.

    Returns
    -------
    (RoomForm, str)
        The form with what is wrong in it, and the text of the room file where nothing is.
    """
    fields = [*LENGTHS, *map(key_of, SURFACES), *OPENINGS, *(f"{one}-area" for one in OPENINGS), *_CLIMATE]
    form = RoomForm(values={key: typed.get(key, "").strip() for key in fields})
    lengths_m = [_taken(form, key, _length) for key in LENGTHS]
    made_of = {name: _taken(form, key_of(name), lambda text: _material(text, materials)) for name in SURFACES}
    openings = {one: _taken(form, one, lambda text: _material(text, materials)) for one in OPENINGS}
    areas_m2 = {one: _taken(form, f"{one}-area", _area) for one in OPENINGS}
    climate = {key: _taken(form, key, _between(*limits)) for key, limits in _CLIMATE.items()}
    _fit(form, lengths_m, areas_m2)
    if form.is_wrong:
        return form, ""
    length_m, width_m, height_m = (one or 0.0 for one in lengths_m)
    answers = Answers(
        name=name,
        dimensions_m=(length_m, width_m, height_m),
        floor=made_of["floor"] or "",
        ceiling=made_of["ceiling"] or "",
        walls=made_of["west wall"] or "",
        of_wall={wall: made_of[wall] or "" for wall, _ in WALLS},
        door_m2=areas_m2["door"] or 0.0,
        window_m2=areas_m2["window"] or 0.0,
        door=openings["door"] or "",
        window=openings["window"] or "",
        temperature_c=climate["temperature"] or 0.0,
        humidity_percent=climate["humidity"] or 0.0,
    )
    return form, room_text(answers, materials=materials)


def _with_usual(values: dict[str, str]) -> dict[str, str]:
    usual = _OPENING_IS | {key: _figure(usually) for key, (_, _, usually) in _CLIMATE.items()}
    return usual | values


def _figure(value: float) -> str:
    return f"{value:.6g}"


def _taken(form: RoomForm, key: str, parse: Callable[[str], _T]) -> _T | None:
    try:
        return parse(form.values[key])
    except ParameterError as error:
        form.wrong[key] = said_and_done(Remark(code=error.code, says=error.says, remedy=error.remedy))
        return None


def _length(text: str) -> float:
    length_m = parse_length_m(text)
    if not _LEAST_M <= length_m <= _MOST_M:
        raise ParameterError(f"{length_m:g} m is no room's", code="bad-room-size", remedy="check the unit")
    return length_m


def _area(text: str) -> float:
    return 0.0 if text in ("", "0") else parse_area_m2(text)


def _material(text: str, materials: Materials) -> str:
    if not text:
        raise ParameterError("nothing is chosen", code="no-such-material", remedy="choose what comes nearest")
    found = materials.get(text)
    if found.each:
        raise ParameterError(
            f'"{found.name}" is no surface', code="no-such-material", remedy="choose another"
        )
    return found.name


def _between(low: float, high: float, usual: float) -> Callable[[str], float]:
    def parse(text: str) -> float:
        if not text:
            return usual
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise ParameterError(
                f'"{text}" is no number from {low:g} to {high:g}',
                code="bad-number",
                remedy="write one, or none",
            )
        return value

    return parse


def _fit(form: RoomForm, lengths_m: list[float | None], areas_m2: dict[str, float | None]) -> None:
    """Refuse openings that are larger than their wall."""
    if any(one is None for one in lengths_m):
        return
    length_m, width_m, height_m = (one or 0.0 for one in lengths_m)
    for opening, wall_m2, wall in (
        ("door", width_m * height_m, "west wall"),
        ("window", length_m * height_m, "south wall"),
    ):
        if (areas_m2[opening] or 0.0) > wall_m2:
            form.wrong[f"{opening}-area"] = f"The {wall} has only {wall_m2:.1f} m2. Check the area."
