r"""Quadratic-residue diffusers: depths, limits, and what to cut.

:math:`s_n = n^2 \bmod N`, :math:`d_n = s_n \lambda_0 / 2N`, upper limit
:math:`c / 2w` (M. R. Schroeder, J. Acoust. Soc. Am. 65 (1979) 958-963).
"""

from __future__ import annotations

from dataclasses import dataclass

from roomir.errors import ParameterError
from roomir.rooms.absorbers.layers import SOUND_SPEED, need

PRIMES = (7, 11, 13, 17)
"""Numbers of wells in a period that are worth a saw."""

NEAREST_WAVELENGTHS = 3.0
"""Listener no nearer than so many wavelengths of the design frequency: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Diffuser:
    """One period after another of wells of different depth.

    Attributes
    ----------
    n_wells : int
        N, wells in a period.
    design_hz : float
        Frequency from which the depths are derived. [Hz]
    well_m : float
        Clear width of a well. [m]
    fin_m : float
        Thickness of the fins between them. [m]
    height_m : float
        Length of the wells. [m]
    periods : int
        How many side by side.
    """

    n_wells: int
    design_hz: float
    well_m: float
    fin_m: float = 0.004
    height_m: float = 0.6
    periods: int = 1

    def __post_init__(self) -> None:
        if self.n_wells not in PRIMES:
            raise ParameterError(
                f"a diffuser of {self.n_wells} wells is not worked out here",
                code="no-such-diffuser",
                remedy=f"choose {', '.join(map(str, PRIMES))}",
            )
        need(design_hz=self.design_hz, well_m=self.well_m, fin_m=self.fin_m, height_m=self.height_m)
        need(periods=self.periods)
        if self.lowest_hz >= self.highest_hz:
            raise ParameterError(
                f"wells {1000 * self.well_m:g} mm wide work below {self.highest_hz:.0f} Hz,"
                f" but these begin at {self.lowest_hz:.0f} Hz",
                code="no-such-diffuser",
                remedy="make the wells narrower or the design frequency lower",
            )

    @property
    def sequence(self) -> tuple[int, ...]:
        """n^2 mod N for n from 0 to N - 1.

        Examples
        --------
        >>> Diffuser(n_wells=7, design_hz=500, well_m=0.05).sequence
        (0, 1, 4, 2, 2, 4, 1)
        """
        return tuple(n * n % self.n_wells for n in range(self.n_wells))

    @property
    def depths_m(self) -> tuple[float, ...]:
        """Depth of each well. [m]."""
        step_m = SOUND_SPEED / self.design_hz / (2.0 * self.n_wells)
        return tuple(s * step_m for s in self.sequence)

    @property
    def width_m(self) -> float:
        """Width over all, outer fins included. [m]."""
        return self.periods * self.n_wells * (self.well_m + self.fin_m) + self.fin_m

    @property
    def highest_hz(self) -> float:
        """Above it the wells are wider than half a wave: c / 2w. [Hz]."""
        return SOUND_SPEED / (2.0 * self.well_m)

    @property
    def lowest_hz(self) -> float:
        """Below it a period is narrower than a wave, or the depths too shallow. [Hz]."""
        return max(self.design_hz, SOUND_SPEED / (self.n_wells * (self.well_m + self.fin_m)))

    @property
    def nearest_m(self) -> float:
        """Least distance to a listener. [m]."""
        return NEAREST_WAVELENGTHS * SOUND_SPEED / self.design_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One line of a cutting list. Sizes in mm."""

    part: str
    count: int
    length_mm: float
    width_mm: float
    thickness_mm: float


def cutting_list(diffuser: Diffuser, *, board_m: float = 0.012) -> tuple[Cut, ...]:
    """List what to cut: bottoms of the wells, fins, back, top and bottom, and spacers under the bottoms.

    Parameters
    ----------
    diffuser : Diffuser
        What to build; all fins are as deep as the deepest well and its bottom.
    board_m : float
        Thickness of the board for back, frame and bottoms. [m]

    Returns
    -------
    tuple of Cut
        The bottoms of equal depth counted together; the spacer strips carry
        them at their distance from the back, two for each well.
    """
    need(board_m=board_m)
    deepest_m = max(diffuser.depths_m)
    mm = 1000.0
    height, well = diffuser.height_m * mm, diffuser.well_m * mm
    cuts = [
        Cut(
            part="back", count=1, length_mm=height, width_mm=diffuser.width_m * mm, thickness_mm=board_m * mm
        ),
        Cut(
            part="fins",
            count=diffuser.periods * diffuser.n_wells + 1,
            length_mm=height,
            width_mm=(deepest_m + board_m) * mm,
            thickness_mm=diffuser.fin_m * mm,
        ),
        Cut(
            part="top and bottom",
            count=2,
            length_mm=diffuser.width_m * mm,
            width_mm=(deepest_m + 2.0 * board_m) * mm,
            thickness_mm=board_m * mm,
        ),
        Cut(
            part="bottoms of wells",
            count=diffuser.periods * diffuser.n_wells,
            length_mm=height,
            width_mm=well,
            thickness_mm=board_m * mm,
        ),
    ]
    for depth_m in sorted({*diffuser.depths_m}):
        under_m = deepest_m - depth_m
        if under_m > 1e-9:
            wells = sum(abs(one - depth_m) < 1e-9 for one in diffuser.depths_m) * diffuser.periods
            cuts.append(
                Cut(
                    part=f"spacers, wells {depth_m * mm:.0f} mm deep",
                    count=2 * wells,
                    length_mm=height,
                    width_mm=under_m * mm,
                    thickness_mm=board_m * mm,
                )
            )
    return tuple(cuts)
