r"""Layers in front of a hard wall: what they absorb, by the transfer matrix of fluid layers.

A layer of thickness d with characteristic impedance Zc and wavenumber k in
front of an impedance Zb shows at incidence :math:`\theta` (sound bends into
the layer, :math:`k_z^2 = k^2 - k_0^2 \sin^2\theta`, :math:`Z' = Z_c k / k_z`)

.. math::
   Z_s = Z' \frac{-j Z_b \cot(k_z d) + Z'}{Z_b - j Z' \cot(k_z d)}, \qquad
   R = \frac{Z_s \cos\theta - \rho_0 c_0}{Z_s \cos\theta + \rho_0 c_0}, \qquad
   \alpha = 1 - |R|^2

and in a diffuse field :math:`\alpha = \int_0^{\pi/2} \alpha(\theta) \sin 2\theta \, d\theta`
(Paris). Sources: M. E. Delany and E. N. Bazley, Appl. Acoust. 3 (1970)
105-116; Y. Miki, J. Acoust. Soc. Jpn. (E) 11 (1990) 19-24; J.-F. Allard and
N. Atalla, "Propagation of Sound in Porous Media" (Wiley, 2009), chapter 2
(the last from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from roomir.bands.band import OCTAVES
from roomir.errors import ParameterError

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

AIR_DENSITY = 1.204
"""rho_0 at 20 degC. [kg/m3]"""

SOUND_SPEED = 343.2
"""c_0 at 20 degC. [m/s]"""

AIR_IMPEDANCE = AIR_DENSITY * SOUND_SPEED

VALID = (0.01, 1.0)
"""f/sigma that Delany and Bazley measured. [m3/kg]"""

MODELS = ("miki", "delany-bazley")

_STEEPEST_DEG = 90.0
_ANGLES = 48


class Layer(Protocol):
    """Anything that sound passes on its way to the wall."""

    def surface(self, behind: Complex | None, *, frequency_hz: Real, sin: Real) -> Complex:
        """Impedance at the front, given that behind (``None`` a hard wall); ``sin`` of the incidence."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Porous:
    """A porous layer.

    Attributes
    ----------
    thickness_m : float
        Thickness. [m]
    flow_resistivity : float
        Static air flow resistivity sigma. [N s/m4]
    model : str
        ``"miki"`` or ``"delany-bazley"``.
    """

    thickness_m: float
    flow_resistivity: float
    model: str = "miki"

    def __post_init__(self) -> None:
        need(thickness_m=self.thickness_m, flow_resistivity=self.flow_resistivity)
        if self.model not in MODELS:
            raise ParameterError(
                f'there is no porous model called "{self.model}"',
                code="no-such-model",
                remedy=f"choose one of {', '.join(MODELS)}",
            )

    def surface(self, behind: Complex | None, *, frequency_hz: Real, sin: Real) -> Complex:
        """Impedance at the front."""
        zc, k = characteristic(frequency_hz, flow_resistivity=self.flow_resistivity, model=self.model)
        return through(
            behind,
            impedance=zc,
            wavenumber=k,
            thickness_m=self.thickness_m,
            frequency_hz=frequency_hz,
            sin=sin,
        )

    def valid(self, frequency_hz: Real) -> NDArray[np.bool_]:
        """Where f/sigma is inside what was measured."""
        x = frequency_hz / self.flow_resistivity
        return np.asarray((x > VALID[0]) & (x < VALID[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class AirGap:
    """Air without partitions. [m]."""

    thickness_m: float

    def __post_init__(self) -> None:
        need(thickness_m=self.thickness_m)

    def surface(self, behind: Complex | None, *, frequency_hz: Real, sin: Real) -> Complex:
        """Impedance at the front."""
        k = (2.0 * np.pi * frequency_hz / SOUND_SPEED).astype(np.complex128)
        air = np.full_like(k, AIR_IMPEDANCE)
        return through(
            behind,
            impedance=air,
            wavenumber=k,
            thickness_m=self.thickness_m,
            frequency_hz=frequency_hz,
            sin=sin,
        )


def need(**figures: float) -> None:
    """Refuse what is not positive and finite."""
    for name, value in figures.items():
        if not (np.isfinite(value) and value > 0.0):
            raise ParameterError(f"{name} is {value:g}; it has to be a positive number", code="not-positive")


def characteristic(frequency_hz: Real, *, flow_resistivity: float, model: str) -> tuple[Complex, Complex]:
    r"""Characteristic impedance and wavenumber of a porous material.

    Parameters
    ----------
    frequency_hz : array
        Frequencies. [Hz]
    flow_resistivity : float
        Sigma. [N s/m4]
    model : str
        ``"miki"`` or ``"delany-bazley"``.

    Returns
    -------
    Zc : array of complex
        [Pa s/m]
    k : array of complex
        [1/m]

    Notes
    -----
    With X = 1000 f / sigma; Delany and Bazley: :math:`Z_c/\rho_0 c_0 = 1 + 9.08
    X^{-0.75} - 11.9j X^{-0.73}`, :math:`k c_0/\omega = 1 + 10.8 X^{-0.70} -
    10.3j X^{-0.59}`; Miki: 5.50, 8.43 (-0.632), 7.81, 11.41 (-0.618).
    """
    x = 1000.0 * frequency_hz / flow_resistivity
    k0 = 2.0 * np.pi * frequency_hz / SOUND_SPEED
    if model == "delany-bazley":
        z = 1.0 + 9.08 * x**-0.75 - 11.9j * x**-0.73
        k = 1.0 + 10.8 * x**-0.70 - 10.3j * x**-0.59
    else:
        z = 1.0 + 5.50 * x**-0.632 - 8.43j * x**-0.632
        k = 1.0 + 7.81 * x**-0.618 - 11.41j * x**-0.618
    return np.asarray(AIR_IMPEDANCE * z), np.asarray(k0 * k)


def through(
    behind: Complex | None,
    *,
    impedance: Complex,
    wavenumber: Complex,
    thickness_m: float,
    frequency_hz: Real,
    sin: Real,
) -> Complex:
    """Carry an impedance through a fluid layer to its front."""
    k0 = 2.0 * np.pi * frequency_hz / SOUND_SPEED
    # Grazing sound in a layer of air would have no depth at all; a sliver keeps the quotient finite.
    kz = np.sqrt(wavenumber**2 - (k0 * sin) ** 2 + 1e-12)
    z = impedance * wavenumber / kz
    cot = 1.0 / np.tan(kz * thickness_m)
    if behind is None:
        return np.asarray(-1j * z * cot)
    return np.asarray(z * (-1j * behind * cot + z) / (behind - 1j * z * cot))


def absorption(layers: Sequence[Layer], frequency_hz: Real, *, angle_deg: float = 0.0) -> Real:
    """Absorption coefficient of layers before a hard wall, for plane sound.

    Parameters
    ----------
    layers : sequence of Layer
        From the wall to the room.
    frequency_hz : array
        Frequencies. [Hz]
    angle_deg : float, default 0
        Incidence from the normal, below 90. [degrees]

    Returns
    -------
    array
        Coefficients.
    """
    frequency_hz = np.asarray(frequency_hz, dtype=np.float64)
    return _absorption(layers, frequency_hz, np.sin(np.radians(angle_deg)) * np.ones_like(frequency_hz))


def _absorption(layers: Sequence[Layer], frequency_hz: Real, sin: Real) -> Real:
    impedance: Complex | None = None
    for layer in layers:
        impedance = layer.surface(impedance, frequency_hz=frequency_hz, sin=sin)
    if impedance is None:
        return np.zeros_like(frequency_hz)
    return alpha_of(impedance, cos=np.sqrt(1.0 - sin**2))


def alpha_of(impedance: Complex, *, cos: Real | float = 1.0) -> Real:
    """Absorption coefficient of a surface impedance [Pa s/m] at an incidence."""
    reflected = (impedance * cos - AIR_IMPEDANCE) / (impedance * cos + AIR_IMPEDANCE)
    return np.asarray(1.0 - np.abs(reflected) ** 2)


def random_absorption(layers: Sequence[Layer], frequency_hz: Real) -> Real:
    """Absorption coefficient in a diffuse field (Paris), shape as ``frequency_hz``."""
    nodes, weights = np.polynomial.legendre.leggauss(_ANGLES)
    half = np.radians(_STEEPEST_DEG) / 2.0
    angles = half * (nodes + 1.0)
    frequency_hz = np.asarray(frequency_hz, dtype=np.float64)
    sin = np.broadcast_to(np.sin(angles)[:, np.newaxis], (angles.size, frequency_hz.size))
    alpha = _absorption(layers, np.broadcast_to(frequency_hz, sin.shape), sin)
    share = half * weights * np.sin(2.0 * angles)
    return np.asarray(share @ alpha)


def octave_values(layers: Sequence[Layer], *, random: bool) -> Real:
    """Mean coefficient over each octave from 63 Hz to 8 kHz, shape (8,).

    Nine frequencies evenly spaced over the logarithm stand for an octave, so
    that a sharp resonance is neither missed nor overstated.
    """
    steps = (np.arange(9) + 0.5) / 9.0
    grid = np.array([band.low_hz * (band.high_hz / band.low_hz) ** steps for band in OCTAVES])
    flat = grid.ravel()
    alpha = random_absorption(layers, flat) if random else absorption(layers, flat)
    return np.asarray(alpha.reshape(grid.shape).mean(axis=1))
