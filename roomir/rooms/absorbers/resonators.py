r"""Absorbers that swing: perforated and slotted panels, membranes, Helmholtz resonators.

Panels are a mass with losses in front of a cavity, so that their impedance
adds to what lies behind. Formulas for holes and slots as in T. J. Cox and P.
D'Antonio, "Acoustic Absorbers and Diffusers", chapters 6 and 7 (from memory);
resonance frequencies as in the texts named at each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from roomir.errors import ParameterError
from roomir.rooms.absorbers.layers import AIR_DENSITY, SOUND_SPEED, Complex, Real, need

AIR_VISCOSITY = 15e-6
"""Kinematic viscosity of air. [m2/s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Perforated:
    """A hard sheet with round holes.

    Attributes
    ----------
    thickness_m, hole_m, spacing_m : float
        Of the sheet; diameter of a hole; centre to centre. [m]
    staggered : bool
        Whether the holes stand in triangles instead of squares.
    """

    thickness_m: float
    hole_m: float
    spacing_m: float
    staggered: bool = False

    def __post_init__(self) -> None:
        need(thickness_m=self.thickness_m, hole_m=self.hole_m, spacing_m=self.spacing_m)
        _need_sheet_between("holes", width_m=self.hole_m, spacing_m=self.spacing_m)

    @property
    def open_share(self) -> float:
        """Open area over all area: pi/4 (d/b)^2 in squares, pi/(2 sqrt 3) (d/b)^2 in triangles."""
        of_cell = math.pi / (2.0 * math.sqrt(3.0)) if self.staggered else math.pi / 4.0
        return of_cell * (self.hole_m / self.spacing_m) ** 2

    def resonance_hz(self, depth_m: float) -> float:
        r"""Resonance before an empty cavity: :math:`(c/2\pi) \sqrt{p / (h (t + 0.8 d))}`. [Hz]."""
        need(depth_m=depth_m)
        effective_m = self.thickness_m + 0.8 * self.hole_m
        return SOUND_SPEED / (2.0 * math.pi) * math.sqrt(self.open_share / (depth_m * effective_m))

    def surface(self, behind: Complex | None, *, frequency_hz: Real, sin: Real) -> Complex:
        """Impedance at the front."""
        del sin  # a sheet moves no sound sideways
        w, p, a = 2.0 * np.pi * frequency_hz, self.open_share, self.hole_m / 2.0
        edge = 0.8 * (1.0 - 1.47 * math.sqrt(p) + 0.47 * p**1.5)
        slip = np.sqrt(8.0 * AIR_VISCOSITY / w) * (1.0 + self.thickness_m / self.hole_m)
        mass = AIR_DENSITY / p * (self.thickness_m + 2.0 * edge * a + slip)
        loss = AIR_DENSITY / p * np.sqrt(8.0 * AIR_VISCOSITY * w) * (1.0 + self.thickness_m / self.hole_m)
        return _before(behind, np.asarray(loss + 1j * w * mass, dtype=np.complex128))


@dataclass(frozen=True, slots=True, kw_only=True)
class Slotted:
    """A hard sheet with parallel slots.

    Attributes
    ----------
    thickness_m, slot_m, spacing_m : float
        Of the sheet; width of a slot; centre to centre. [m]
    """

    thickness_m: float
    slot_m: float
    spacing_m: float

    def __post_init__(self) -> None:
        need(thickness_m=self.thickness_m, slot_m=self.slot_m, spacing_m=self.spacing_m)
        _need_sheet_between("slots", width_m=self.slot_m, spacing_m=self.spacing_m)

    @property
    def open_share(self) -> float:
        """Open area over all area."""
        return self.slot_m / self.spacing_m

    @property
    def effective_m(self) -> float:
        r"""Thickness with end corrections :math:`t - (2 w / \pi) \ln \sin(\pi p / 2)`. [m]."""
        return self.thickness_m - 2.0 * self.slot_m / math.pi * math.log(
            math.sin(math.pi * self.open_share / 2.0)
        )

    def resonance_hz(self, depth_m: float) -> float:
        """Resonance before an empty cavity. [Hz]."""
        need(depth_m=depth_m)
        return SOUND_SPEED / (2.0 * math.pi) * math.sqrt(self.open_share / (depth_m * self.effective_m))

    def surface(self, behind: Complex | None, *, frequency_hz: Real, sin: Real) -> Complex:
        """Impedance at the front."""
        del sin  # a sheet moves no sound sideways
        w = 2.0 * np.pi * frequency_hz
        # The walls of a slot rub as those of a hole of twice its width (equal hydraulic radius).
        loss = np.sqrt(8.0 * AIR_VISCOSITY * w) * (1.0 + self.thickness_m / (2.0 * self.slot_m))
        impedance = AIR_DENSITY / self.open_share * (loss + 1j * w * self.effective_m)
        return _before(behind, np.asarray(impedance, dtype=np.complex128))


@dataclass(frozen=True, slots=True, kw_only=True)
class Membrane:
    """A limp sheet or thin board on battens.

    Attributes
    ----------
    mass_kg_per_m2 : float
        Mass per area. [kg/m2]
    loss_share : float
        Resistance of sheet and edges over that of air: what nobody knows
        beforehand; 0.1 to 1, own choice, no source.
    """

    mass_kg_per_m2: float
    loss_share: float = 0.3

    def __post_init__(self) -> None:
        need(mass_kg_per_m2=self.mass_kg_per_m2, loss_share=self.loss_share)

    def resonance_hz(self, depth_m: float) -> float:
        r"""Resonance on an empty cavity, :math:`\sqrt{\rho_0 c^2 / (m d)} / 2\pi = 60 / \sqrt{m d}`. [Hz].

        "Audio Engineering" (2009), p. 863.
        """
        need(depth_m=depth_m)
        stiffness = AIR_DENSITY * SOUND_SPEED**2 / depth_m
        return math.sqrt(stiffness / self.mass_kg_per_m2) / (2.0 * math.pi)

    def surface(self, behind: Complex | None, *, frequency_hz: Real, sin: Real) -> Complex:
        """Impedance at the front."""
        del sin  # locally reacting, as battens make it
        w = 2.0 * np.pi * frequency_hz
        own = self.loss_share * AIR_DENSITY * SOUND_SPEED
        return _before(behind, np.asarray(own + 1j * w * self.mass_kg_per_m2, dtype=np.complex128))


def _need_sheet_between(what: str, *, width_m: float, spacing_m: float) -> None:
    if spacing_m <= width_m:
        raise ParameterError(
            f"{what} {1000 * width_m:g} mm wide do not fit {1000 * spacing_m:g} mm apart",
            code="bad-opening",
            remedy="spacing is from centre to centre: make it wider than the opening",
        )


def _before(behind: Complex | None, impedance: Complex) -> Complex:
    if behind is None:
        return np.full_like(impedance, 1e12)  # a sheet on the wall itself cannot move
    return np.asarray(behind + impedance)


@dataclass(frozen=True, slots=True, kw_only=True)
class Helmholtz:
    """A bottle: a neck before a volume.

    Attributes
    ----------
    neck_m2, neck_m : float
        Area and length of the neck. [m2, m]
    volume_m3 : float
        Volume behind it. [m3]
    """

    neck_m2: float
    neck_m: float
    volume_m3: float

    def __post_init__(self) -> None:
        need(neck_m2=self.neck_m2, neck_m=self.neck_m, volume_m3=self.volume_m3)

    def resonance_hz(self, *, with_ends: bool = True) -> float:
        r"""Resonance :math:`(c/2\pi) \sqrt{S / (l V)}`, about 55 sqrt(S / (l V)). [Hz].

        Parameters
        ----------
        with_ends : bool, default True
            Whether the air moving outside both ends, 0.8 diameters together,
            lengthens the neck.

        Notes
        -----
        "Audio Engineering" (2009), p. 863; end correction from memory.
        """
        diameter_m = 2.0 * math.sqrt(self.neck_m2 / math.pi)
        length_m = self.neck_m + (0.8 * diameter_m if with_ends else 0.0)
        return SOUND_SPEED / (2.0 * math.pi) * math.sqrt(self.neck_m2 / (length_m * self.volume_m3))

    def largest_area_m2(self) -> float:
        r"""Most that one in a wall can absorb, matched, at resonance: :math:`\lambda^2 / 2\pi`. [m2].

        H. Kuttruff, "Room Acoustics", chapter 6 (from memory).
        """
        return float((SOUND_SPEED / self.resonance_hz()) ** 2 / (2.0 * math.pi))

    def side_by_side(self, *, front_m2: float) -> tuple[Perforated, float]:
        """Many of these in square boxes side by side: as a sheet with one hole a box, and its cavity's depth.

        Parameters
        ----------
        front_m2 : float
            Front of each box. [m2]

        Returns
        -------
        Perforated
            With the same resonance, for what a box holds and what its neck lets through stay the same.
        float
            Depth that the volume has behind that front. [m]

        Raises
        ------
        ParameterError
            If the neck is as wide as the front.
        """
        need(front_m2=front_m2)
        hole_m = 2.0 * math.sqrt(self.neck_m2 / math.pi)
        sheet = Perforated(thickness_m=self.neck_m, hole_m=hole_m, spacing_m=math.sqrt(front_m2))
        return sheet, self.volume_m3 / front_m2
