"""A room through the eyes of the model: decay times and their slopes against every unknown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from roomir.bands.band import OCTAVES
from roomir.plan.knowledge import Knowledge, Values, amounts
from roomir.rooms.choice import (
    FORMULA_SPREAD,
    absorbing,
    best_s,
    choose_method,
    spread_of_formula,
)
from roomir.rooms.description import Room
from roomir.rooms.five_formulas import Absorbing
from roomir.rooms.materials import LAB_SPREAD
from roomir.rooms.mirror_box import T20, T30, mirror_box_s
from roomir.rooms.statistics import schroeder_frequency_hz

WANDER = 0.03
"""Standard deviation of ln T by which the formula's error changes from stage to stage: own choice."""

FIELD_SPREAD = 0.12
"""Standard deviation of ln T by which a box departs from the statistics of its walls below `FEW_MODES`
Schroeder frequencies: own choice. Few modes, and the axial ones among them, decay more slowly than all
directions together; that is the room's and not a material's, and stays when walls are lined."""

FEW_MODES = 2.0
"""Schroeder frequencies up to which a room's own modes can be heard in an octave: own choice."""

_STEP = 1e-4


class View:
    """A room with its materials' coefficients times factors.

    Parameters
    ----------
    room : Room
        In the stage in question.
    known : Knowledge
        Which has met all of its materials.
    """

    def __init__(self, room: Room, known: Knowledge) -> None:
        self._known = known
        self._room = room
        self._plain = absorbing(room, known.octaves)
        self._walls = tuple(i for i, surface in enumerate(room.surfaces) for _ in surface.patches)
        index = {name: i for i, name in enumerate(known.names)}
        self._patches = [index[patch.material] for _, patch in room.patches]
        self._pieces = [index[one.material] for one in room.furnishings]
        self.is_box = room.dimensions_m is not None and set(self._plain.facings) == {"x", "y", "z"}
        self.body = self._bodies(np.einsum("k,kbi->bi", known.weight, known.mean))
        self._method, self.because = choose_method(self.body)
        self._schroeder_hz = self._schroeder()
        top_hz = self._schroeder_hz or 0.0
        self.modal = np.array([OCTAVES[i].exact_hz < top_hz for i in known.octaves])
        self.few_modes = np.array([OCTAVES[i].exact_hz < FEW_MODES * top_hz for i in known.octaves])

    @property
    def method(self) -> str:
        """The formula that applies to it."""
        return self._method

    def log_times(self, mean: Values, mixings: Sequence[float]) -> tuple[Values, Values]:
        """Work out the logarithm of T and its slopes.

        Parameters
        ----------
        mean : array, shape (mixings, bands, unknowns)
            Log-factors; the last is the formula's.
        mixings : sequence of float
            Values of w; nan where the size is not known.

        Returns
        -------
        log_t : array, shape (mixings, bands)
            ln(T / 1 s).
        slopes : array, shape (mixings, bands, unknowns)
            Against every unknown.
        """
        unknowns = mean.shape[-1]
        # Beside the room as it is one room for each material, nudged: all of them in one go.
        nudges = np.zeros((unknowns, unknowns))
        nudges[range(1, unknowns), range(unknowns - 1)] = _STEP
        rooms = mean[:, np.newaxis] + nudges[:, np.newaxis]
        log_t = np.log(self._times(rooms, mixings, (T30,))[0])
        slopes = np.ones_like(mean)
        slopes[..., :-1] = np.moveaxis((log_t[:, 1:] - log_t[:, :1]) / _STEP, 1, -1)
        return np.asarray(log_t[:, 0] + mean[..., -1]), slopes

    def bends(self, mean: Values, mixings: Sequence[float]) -> Values:
        """Work out ln(T30/T20) for every mixing, shape (mixings, bands)."""
        t20, t30 = self._times(mean[:, np.newaxis], mixings, (T20, T30))
        return np.asarray(np.log(t30 / t20)[:, 0])

    def with_news(self, covariance: Values) -> Values:
        """Give a covariance what is new in this stage.

        Of the formula all of its spread at first, its wandering later; of a
        material of which more hangs than was read, the spread of its mounting.
        """
        covariance = covariance.copy()
        known = self._known
        if known.stages:
            covariance[:, :, -1, -1] += WANDER**2
            now = amounts(self._room)
            for i, name in enumerate(known.names):
                before, after = known.amounts.get(name, 0.0), now.get(name, 0.0)
                if 0.0 < before < after:
                    covariance[:, :, i, i] += (LAB_SPREAD * (1.0 - before / after)) ** 2
        elif known.mixings and not math.isnan(known.mixings[0]):
            # What unevenness does is in the mixings already.
            covariance[:, :, -1, -1] = np.where(self.few_modes, FIELD_SPREAD, FORMULA_SPREAD) ** 2
        else:
            spread = spread_of_formula(self.body, known.octaves, schroeder_hz=self._schroeder_hz)
            covariance[:, :, -1, -1] = spread**2
        return covariance

    def _times(
        self, mean: Values, mixings: Sequence[float], stretches: Sequence[tuple[float, float]]
    ) -> Values:
        """Decay times, shape (stretches, mixings, rooms, bands)."""
        body, shape = self._bodies(mean), mean.shape[:-1]
        if math.isnan(mixings[0]) or self._room.dimensions_m is None:
            return np.stack([best_s(body, self._method).reshape(shape)] * len(stretches))
        times = mirror_box_s(
            body,
            size_m=self._room.dimensions_m,
            walls=self._walls,
            mirroring=np.repeat(np.array(mixings), shape[1] * shape[2]),
            stretches=stretches,
        )
        assert times is not None  # only boxes have mixings
        return np.asarray(times.reshape(len(stretches), *shape))

    def _bodies(self, mean: Values) -> Absorbing:
        """Rooms with their coefficients times the factors, side by side as if they were bands."""
        plain, bands = self._plain, len(self._known.octaves)
        factors = np.exp(mean[..., :-1]).reshape(-1, bands, mean.shape[-1] - 1)
        alphas = plain.alphas[:, np.newaxis] * np.moveaxis(factors[:, :, self._patches], -1, 0)
        pieces = plain.pieces_m2[:, np.newaxis] * np.moveaxis(factors[:, :, self._pieces], -1, 0)
        return replace(
            plain,
            alphas=alphas.reshape(len(alphas), len(factors) * bands),
            pieces_m2=pieces.reshape(len(pieces), len(factors) * bands),
            air_m2=np.tile(plain.air_m2, len(factors)),
        )

    def _schroeder(self) -> float | None:
        time_s = best_s(self.body, self._method)
        mids = [k for k, i in enumerate(self._known.octaves) if OCTAVES[i].nominal_hz in (500, 1000)]
        mid_s = float(np.mean(time_s[mids])) if mids else math.nan
        if not math.isfinite(mid_s):
            return None
        return schroeder_frequency_hz(volume_m3=self._room.volume_m3, decay_time_s=mid_s)
