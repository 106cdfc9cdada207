"""Lengths, areas and volumes as a builder writes them, turned into metres.

Metric or US customary, with a decimal point or a decimal comma. What could
mean two things is refused and said so, because a room ten times too large
looks like any other number further down.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from roomir.errors import ParameterError

METRES_PER_FOOT = 0.3048
"""The international foot (exact since 1959)."""

METRES_PER_INCH = METRES_PER_FOOT / 12.0
"""The international inch."""

_LONGEST_TEXT = 100
_LONGEST_M = 100.0
_SHORTEST_ROOM_M = 0.5
_LARGEST_M2 = 1e5
_LARGEST_M3 = 1e6
_SMALLEST_ROOM_M3 = 0.1

_LENGTH_UNITS_M: Mapping[str, float] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), 0.01),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), 0.001),
    **dict.fromkeys(("ft", "foot", "feet", "'"), METRES_PER_FOOT),
    **dict.fromkeys(("in", "inch", "inches", '"'), METRES_PER_INCH),
}
# Which units may follow which in the same length.
_FOLLOWED_BY_M: Mapping[float, tuple[float, ...]] = {
    1.0: (0.01, 0.001),
    0.01: (0.001,),
    METRES_PER_FOOT: (METRES_PER_INCH,),
}
_AREA_UNITS_M2: Mapping[str, float] = {
    **dict.fromkeys(("m2", "m^2", "sqm", "squaremetres", "squaremeters", "squaremetre", "squaremeter"), 1.0),
    **dict.fromkeys(("ft2", "ft^2", "sqft", "squarefeet", "squarefoot"), METRES_PER_FOOT**2),
}
_VOLUME_UNITS_M3: Mapping[str, float] = {
    **dict.fromkeys(("m3", "m^3", "cum", "cubicmetres", "cubicmeters", "cubicmetre", "cubicmeter"), 1.0),
    **dict.fromkeys(("ft3", "ft^3", "cuft", "cubicfeet", "cubicfoot"), METRES_PER_FOOT**3),
}

_NUMBER = r"(?:[0-9]+[ -]+)?[0-9]+ */ *[0-9]+|[.,]?[0-9](?:[0-9.,]*[0-9])?"
_LENGTH_PART = re.compile(rf"(?P<number>{_NUMBER})\s*(?:(?P<unit>[a-z]+)\.?|(?P<mark>['\"]))?")
_BETWEEN_PARTS = re.compile(r"\s*(?:,\s|-|\band\b)?\s*")
_QUANTITY = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>[a-z][a-z0-9^ .]*)?")
_TIMES = re.compile(r"x|\*|\bby\b|(?<=[0-9])by(?=[0-9])")


def parse_length_m(text: str) -> float:
    """Read a length.

    Parameters
    ----------
    text : str
        Such as ``3.2``, ``3,2 m``, ``320 cm``, ``3 m 20 cm``, ``12 ft 6 in``,
        ``12' 6 1/2"``, ``12.5ft``. A bare number is in metres.

    Returns
    -------
    float
        Length, above 0 and at most 100. [m]

    Raises
    ------
    ParameterError
        If the text is no length, could mean two, or is out of range.

    Examples
    --------
    >>> parse_length_m("320 cm")
    3.2
    >>> round(parse_length_m("12 ft 6 in"), 4)
    3.81
    """
    cleaned = _cleaned(text)
    _refuse_signs(cleaned, text=text)
    length_m = _length(_parts(cleaned, text=text), text=text, bare_unit_m=1.0)
    return _within(length_m, text=text, least=0.0, most=_LONGEST_M, unit="m", what="length")


def parse_area_m2(text: str) -> float:
    """Read an area.

    Parameters
    ----------
    text : str
        Such as ``12``, ``12 m2``, ``130 sq ft``. A bare number is in square metres.

    Returns
    -------
    float
        Area, above 0 and at most 100 000. [m2]

    Raises
    ------
    ParameterError
        If the text is no area, could mean two, or is out of range.

    Examples
    --------
    >>> round(parse_area_m2("100 sq ft"), 2)
    9.29
    """
    area_m2 = _quantity(text, units=_AREA_UNITS_M2, what="area", example="12 m2 or 130 ft2")
    return _within(area_m2, text=text, least=0.0, most=_LARGEST_M2, unit="m2", what="area")


def parse_volume_m3(text: str) -> float:
    """Read the volume of a room.

    Parameters
    ----------
    text : str
        Such as ``20.8``, ``20,8 m3``, ``735 ft3``, ``735 cubic feet``. A bare
        number is in cubic metres.

    Returns
    -------
    float
        Volume, at least 0.1 and at most a million. [m3]

    Raises
    ------
    ParameterError
        If the text is no volume, could mean two, or is out of range.

    Examples
    --------
    >>> round(parse_volume_m3("735 ft3"), 2)
    20.81
    """
    if len(_TIMES.split(_cleaned(text))) == 3:
        raise ParameterError(
            f'"{text}" looks like length, width and height, not like a volume',
            code="bad-volume",
            remedy="give it as dimensions, or multiply it out: 20.8 m3 or 735 ft3",
        )
    volume_m3 = _quantity(text, units=_VOLUME_UNITS_M3, what="volume", example="20.8 m3 or 735 ft3")
    return _within(
        volume_m3, text=text, least=_SMALLEST_ROOM_M3, most=_LARGEST_M3, unit="m3", what="volume of a room"
    )


def parse_dimensions_m(text: str) -> tuple[float, float, float]:
    """Read the three dimensions of a room.

    Parameters
    ----------
    text : str
        Three lengths joined by ``x``, ``*``, the multiplication sign, ``by``,
        a semicolon, or a comma and a space: ``3.2 x 2.6 x 2.5``, ``12 ft 6 in
        x 10 ft x 8 ft``. A unit that stands only behind the last holds for all
        three; without any they are in metres.

    Returns
    -------
    (float, float, float)
        The lengths in the order given, each from 0.5 to 100. [m]

    Raises
    ------
    ParameterError
        If the text is not three lengths, could mean several things, or one
        length is out of range.

    Examples
    --------
    >>> parse_dimensions_m("320 x 260 x 250 cm")
    (3.2, 2.6, 2.5)
    """
    cleaned = _cleaned(text)
    _refuse_signs(cleaned, text=text)
    written = [part.strip() for part in _dimension_parts(cleaned, text=text)]
    if len(written) != 3 or not all(written):
        raise ParameterError(
            f'"{text}" is not three dimensions',
            code="bad-dimensions",
            remedy="write length, width and height: 3.2 x 2.6 x 2.5, or 12 ft 6 in x 10 ft x 8 ft",
        )
    parts = [_parts(one, text=text) for one in written]
    first, second, third = (one[0][1] for one in parts)
    if first is None and second is None and len(parts[2]) == 1:
        bare_unit_m = third or 1.0
    elif first is None or second is None or third is None:
        raise ParameterError(
            f'"{text}" has a unit for one dimension and none for another',
            code="ambiguous-dimensions",
            remedy="write the unit behind each of the three, or once at the end: 12 x 10 x 8 ft",
        )
    else:
        bare_unit_m = 1.0
    a, b, c = (
        _within(
            _length(one, text=text, bare_unit_m=bare_unit_m),
            text=name,
            least=_SHORTEST_ROOM_M,
            most=_LONGEST_M,
            unit="m",
            what="dimension of a room",
        )
        for one, name in zip(parts, written, strict=True)
    )
    return (a, b, c)


def _cleaned(text: str) -> str:
    """Lower case, with the typographer's marks replaced by plain ones."""
    # A vulgar fraction stands apart from the digits before it, else 3 1/2 in one glyph would read 31/2.
    apart = (
        f" {unicodedata.normalize('NFKC', char)}"
        if unicodedata.decomposition(char).startswith("<fraction>")
        else char
        for char in text
    )
    if len(text) > _LONGEST_TEXT:
        raise ParameterError(f'"{text[:20]}..." is not a size', code="bad-number", remedy="write it as 3.2 m")
    plain = unicodedata.normalize("NFKC", "".join(apart)).casefold()
    for marks, mark in (
        ("\u2032\u2019\u2018\u00b4`", "'"),
        ("\u2033\u201c\u201d", '"'),
        ("\u2044", "/"),
        ("\u00d7\u2715\u2716", "x"),
        ("\u2212\u2013", "-"),
    ):
        plain = plain.translate(dict.fromkeys(map(ord, marks), mark))
    return " ".join(plain.replace("''", '"').split())


def _refuse_signs(cleaned: str, *, text: str) -> None:
    if re.search(r"(?:^|[x*,;]|\bby) ?-", cleaned):
        raise ParameterError(
            f'"{text}" is negative', code="out-of-range", remedy="write the size without a sign"
        )


def _parts(cleaned: str, *, text: str) -> list[tuple[float, float | None]]:
    """Take a length apart: each number with the size of its unit [m], ``None`` for a bare number."""
    parts: list[tuple[float, float | None]] = []
    position = 0
    while position < len(cleaned) or not parts:
        part = _LENGTH_PART.match(cleaned, position)
        name = part and (part["unit"] or part["mark"])
        if part is None or (name and name not in _LENGTH_UNITS_M):
            raise _no_length(text)
        parts.append((_number(part["number"], text=text), _LENGTH_UNITS_M[name] if name else None))
        position = part.end()
        between = _BETWEEN_PARTS.match(cleaned, position)
        if between is not None and between.end() > position:
            position = between.end()
            if position == len(cleaned):
                raise _no_length(text)
    return parts


def _length(parts: list[tuple[float, float | None]], *, text: str, bare_unit_m: float) -> float:
    """Add up the parts of one length. [m]."""
    value, unit_m = parts[0]
    if unit_m is None and len(parts) > 1:
        raise _no_length(text)
    unit_m = unit_m or bare_unit_m
    total_m = value * unit_m
    for smaller, smaller_unit_m in parts[1:]:
        # Behind feet a bare number is in inches, as on every tape; behind anything else it is a riddle.
        next_unit_m = smaller_unit_m or (METRES_PER_INCH if unit_m == METRES_PER_FOOT else None)
        if next_unit_m not in _FOLLOWED_BY_M.get(unit_m, ()) or next_unit_m is None:
            raise _no_length(text)
        # 12.5 ft 6 in and 12 ft 14 in are slips of the pen, and nobody knows of which.
        if value % 1.0 or round(smaller * next_unit_m, 9) >= unit_m:
            raise ParameterError(
                f'the parts of "{text}" do not add up to a length',
                code="bad-length",
                remedy="give only the last part decimals, keep inches below 12 and centimetres below 100",
            )
        total_m += smaller * next_unit_m
        value, unit_m = smaller, next_unit_m
    return round(total_m, 9)


def _no_length(text: str) -> ParameterError:
    return ParameterError(
        f'"{text}" is not a length',
        code="bad-length",
        remedy="write it as 3.2 m, 320 cm, 12 ft 6 in or 12.5 ft",
    )


def _quantity(text: str, *, units: Mapping[str, float], what: str, example: str) -> float:
    cleaned = _cleaned(text)
    _refuse_signs(cleaned, text=text)
    match = _QUANTITY.fullmatch(cleaned)
    unit = re.sub(r"[ .]", "", match["unit"] or "") if match else ""
    if match is None or (unit and unit not in units):
        raise ParameterError(
            f'"{text}" is not {_a(what)}', code=f"bad-{what}", remedy=f"write it as {example}"
        )
    return _number(match["number"], text=text) * (units[unit] if unit else 1.0)


def _number(written: str, *, text: str) -> float:
    """Turn digits with points, commas or a fraction into a number."""
    if "/" in written:
        whole, _, fraction = (
            written.rpartition(" ") if re.search(r"[0-9] [0-9]", written) else ("", "", written)
        )
        if not whole and "-" in written:
            whole, _, fraction = written.partition("-")
        upper, _, lower = (piece.strip(" -") for piece in fraction.partition("/"))
        if int(lower) == 0:
            raise ParameterError(f'"{text}" divides by zero', code="bad-number")
        return float(whole.strip(" -") or 0) + int(upper) / int(lower)
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", written):
        raise ParameterError(
            f'"{written}" can be read as {written.replace(",", ".")} or as {written.replace(",", "")}',
            code="ambiguous-number",
            remedy="write it with a decimal point, and without marks between thousands",
        )
    if re.fullmatch(r"[0-9]*[.,]?[0-9]+", written):
        return float(written.replace(",", "."))
    for thousands, decimal in ((",", "."), (".", ",")):
        if re.fullmatch(rf"[1-9][0-9]{{0,2}}(?:\{thousands}[0-9]{{3}})+(?:\{decimal}[0-9]+)?", written):
            return float(written.replace(thousands, "").replace(decimal, "."))
    raise ParameterError(f'"{written}" is not a number', code="bad-number", remedy="write it as 1234.5")


def _dimension_parts(cleaned: str, *, text: str) -> list[str]:
    for separator in (_TIMES, re.compile(";"), re.compile(r", ")):
        parts = separator.split(cleaned)
        if len(parts) > 1:
            return parts
    if cleaned.count(",") == 2:
        # Three numbers are asked for, and two commas make three in one way only.
        return cleaned.split(",")
    if cleaned.count(",") > 2:
        raise ParameterError(
            f'the commas in "{text}" can separate dimensions or mark decimals',
            code="ambiguous-dimensions",
            remedy="put an x between the dimensions: 3.2 x 2.6 x 2.5",
        )
    return [cleaned]


def _within(value: float, *, text: str, least: float, most: float, unit: str, what: str) -> float:
    if value > 0.0 and least <= value <= most:
        return value
    if value <= 0.0:
        says, remedy = f'"{text}" is zero', "write the size that was measured"
    elif value > most:
        says = f'"{text}" is {value:g} {unit}, too large for {_a(what)}'
        remedy = "check the unit: a bare number is taken in metres, so write cm or ft where that is meant"
    else:
        says = f'"{text}" is {value:g} {unit}, too small for {_a(what)}'
        remedy = f"check the unit; the least is {least:g} {unit}"
    raise ParameterError(says, code="out-of-range", remedy=remedy)


def _a(what: str) -> str:
    return f"an {what}" if what[0] in "aeiou" else f"a {what}"
