"""Areas, volumes and lengths in metric or US customary units."""

from __future__ import annotations

from dataclasses import dataclass

from roomir.report.rounding import rounded
from roomir.units import METRES_PER_FOOT


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitSystem:
    """How sizes are written.

    Attributes
    ----------
    name : str
        ``"metric"`` or ``"us"``.
    absorption : str
        Unit of an equivalent absorption area.
    area_per_m2, volume_per_m3, length_per_m : float
        Units in one square metre, cubic metre and metre.
    """

    name: str
    absorption: str
    area: str
    volume: str
    length: str
    area_per_m2: float
    volume_per_m3: float
    length_per_m: float

    def volume_text(self, volume_m3: float) -> str:
        """Write a volume with its unit.

        Examples
        --------
        >>> METRIC.volume_text(172.8), US.volume_text(172.8)
        ('172.8 m3', '6102 ft3')
        """
        value = volume_m3 * self.volume_per_m3
        return f"{rounded(value, decimals=1 if value < 1000.0 else 0)} {self.volume}"

    def area_text(self, area_m2: float) -> str:
        """Write an area with its unit.

        Examples
        --------
        >>> METRIC.area_text(6.12), US.area_text(6.12)
        ('6.1 m2', '66 ft2')
        """
        value = area_m2 * self.area_per_m2
        return f"{rounded(value, decimals=1 if self.area_per_m2 == 1.0 else 0)} {self.area}"

    def lengths_text(self, lengths_m: tuple[float, ...]) -> str:
        """Write lengths that belong together.

        Examples
        --------
        >>> METRIC.lengths_text((9.0, 6.0, 3.2)), US.lengths_text((9.0, 6.0, 3.2))
        ('9 x 6 x 3.2 m', '29.5 x 19.7 x 10.5 ft')
        """
        decimals = 2 if self.length_per_m == 1.0 else 1
        return f"{' x '.join(f'{round(m * self.length_per_m, decimals):g}' for m in lengths_m)} {self.length}"


METRIC = UnitSystem(
    name="metric", absorption="m2", area="m2", volume="m3", length="m",
    area_per_m2=1.0, volume_per_m3=1.0, length_per_m=1.0,
)  # fmt: skip
US = UnitSystem(
    name="us", absorption="sabins", area="ft2", volume="ft3", length="ft",
    area_per_m2=METRES_PER_FOOT**-2, volume_per_m3=METRES_PER_FOOT**-3, length_per_m=1.0 / METRES_PER_FOOT,
)  # fmt: skip
"""A sabin is the absorption of one square foot of open window."""

UNIT_SYSTEMS = {one.name: one for one in (METRIC, US)}
