"""Vessels that cool, set and are poured: the physics behind the virtual bench's probes.

Heat balances of liquid and wall, integrated step by step; nothing here knows the closed forms that
the forecast assumes. Losses go by a power of the excess temperature (1 is Newton's law), by a wall
that stores heat, and by water that evaporates from an open surface. A fat may supercool, nucleate
and set, with its latent heat. What a probe shows of it is logger.virtual.bodies.probe's. Used by
the virtual bench and by the accuracy tables; never by the recorder.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

WATER_J_PER_G_K = 4.18
FAT_J_PER_G_K = 2.05
_LONGEST_STEP_S = 2.0
_VAPOUR_HEAT_J_PER_G = 2400.0
_REFERENCE_EXCESS_K = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingFat:
    """How the fat in a vessel sets.

    Attributes
    ----------
    nucleates_at_c : float
        Temperature at which the supercooled fat nucleates [degC].
    melts_at_c : float
        Temperature that the setting fat cannot warm itself above, and above which solid fat
        melts [degC].
    sets_share : float
        Share of the fat that sets in the minutes after nucleation, 0 to 1.
    latent_j_per_g : float
        Latent heat of the share that sets [J/g].
    growth_s : float
        Time scale of the growth after nucleation [s].
    """

    nucleates_at_c: float
    melts_at_c: float
    sets_share: float = 0.3
    latent_j_per_g: float = 100.0
    growth_s: float = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class VesselSpec:
    """A vessel and where it stands.

    Attributes
    ----------
    ambient_c : float
        Air temperature [degC].
    loss_w_per_k : float
        Loss to the air per kelvin of excess, at 30 K of excess [W/K].
    loss_exponent : float
        Exponent of the loss against the excess: 1 for Newton, 1.25 for natural convection.
    wall_j_per_k : float
        Heat capacity of the wall [J/K]; 0 when it is counted into the liquid.
    wall_w_per_k : float
        Conductance from liquid to wall [W/K].
    open_cm2 : float
        Open water surface that evaporates [cm2]; 0 under a lid or under fat.
    humidity : float
        Relative humidity of the air, 0 to 1.
    fat : SettingFat or None
        How the fat sets; None for one that never does.
    """

    ambient_c: float = 22.0
    loss_w_per_k: float = 0.5
    loss_exponent: float = 1.25
    wall_j_per_k: float = 0.0
    wall_w_per_k: float = 3.0
    open_cm2: float = 0.0
    humidity: float = 0.5
    fat: SettingFat | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """What was poured: masses [g], temperature [degC] and the set share of its fat, 0 to 1."""

    water_g: float
    fat_g: float
    temp_c: float
    solid: float = 0.0

    @property
    def mass_g(self) -> float:
        """Mass of the portion [g]."""
        return self.water_g + self.fat_g


class Vessel:
    """A vessel with water, fat or both in it.

    Parameters
    ----------
    spec : VesselSpec
        The vessel and its place.
    temp_c : float
        Temperature of what is in it [degC].
    water_g, fat_g : float
        Masses in it [g]; both may be 0.
    wall_c : float or None
        Temperature of the wall [degC]; None for that of the air.
    solid : float
        Share of the fat that is set, 0 to ``spec.fat.sets_share``.
    """

    def __init__(
        self,
        spec: VesselSpec,
        *,
        temp_c: float,
        water_g: float = 0.0,
        fat_g: float = 0.0,
        wall_c: float | None = None,
        solid: float = 0.0,
    ) -> None:
        self.spec = spec
        self.temp_c = temp_c
        self.water_g = water_g
        self.fat_g = fat_g
        self.wall_c = spec.ambient_c if wall_c is None else wall_c
        self.solid = solid
        self.time_s = 0.0
        self.nucleated_s: float | None = None
        self._growth_clock_s = 0.0

    @property
    def mass_g(self) -> float:
        """Mass of what is in it [g]."""
        return self.water_g + self.fat_g

    def step(self, dt_s: float, heater_w: float = 0.0, *, ambient_c: float | None = None) -> float:
        """Let time pass; give the temperature after it.

        Parameters
        ----------
        dt_s : float
            How long [s], above 0.
        heater_w : float
            Heat given to the liquid [W].
        ambient_c : float or None
            Air temperature from now on [degC]; None leaves it.

        Returns
        -------
        float
            Temperature of what is in it [degC].
        """
        if ambient_c is not None and ambient_c != self.spec.ambient_c:
            self.spec = replace(self.spec, ambient_c=ambient_c)
        count = max(1, math.ceil(dt_s / _LONGEST_STEP_S))
        for _ in range(count):
            self._substep(dt_s / count, heater_w)
        return self.temp_c

    def pour_in(self, portion: Portion) -> None:
        """Add a portion and mix it in at once (heat and set share are kept)."""
        before, added = self._heat_capacity(), _heat_capacity(portion.water_g, portion.fat_g)
        if portion.mass_g <= 0.0:
            return
        solid_g = self.solid * self.fat_g + portion.solid * portion.fat_g
        self.temp_c = (before * self.temp_c + added * portion.temp_c) / (before + added)
        self.water_g += portion.water_g
        self.fat_g += portion.fat_g
        self.solid = solid_g / self.fat_g if self.fat_g > 0.0 else 0.0
        if self.solid > 0.0 and self.nucleated_s is None:
            self.nucleated_s, self._growth_clock_s = self.time_s, 0.0

    def pour_out(self, mass_g: float) -> Portion:
        """Take out up to ``mass_g`` [g] of the mixed contents."""
        share = min(1.0, mass_g / self.mass_g) if self.mass_g > 0.0 else 0.0
        portion = Portion(
            water_g=share * self.water_g,
            fat_g=share * self.fat_g,
            temp_c=self.temp_c,
            solid=self.solid,
        )
        self.water_g -= portion.water_g
        self.fat_g -= portion.fat_g
        return portion

    def _heat_capacity(self) -> float:
        return _heat_capacity(self.water_g, self.fat_g)

    def _rates(self, temp_c: float, wall_c: float, heater_w: float) -> tuple[float, float]:
        """Change of liquid and wall temperature [K/s], setting aside."""
        spec = self.spec
        capacity = max(self._heat_capacity(), 1.0)
        evaporation_w = _evaporation_w(temp_c, spec)
        if spec.wall_j_per_k <= 0.0:
            return (heater_w - _loss_w(temp_c, spec) - evaporation_w) / capacity, 0.0
        through_w = spec.wall_w_per_k * (temp_c - wall_c)
        liquid = (heater_w - through_w - evaporation_w) / capacity
        return liquid, (through_w - _loss_w(wall_c, spec)) / spec.wall_j_per_k

    def _substep(self, dt_s: float, heater_w: float) -> None:
        """Advance one Runge-Kutta step of fourth order, then let the fat set or melt."""
        t0, w0 = self.temp_c, self.wall_c
        a1, b1 = self._rates(t0, w0, heater_w)
        a2, b2 = self._rates(t0 + a1 * dt_s / 2, w0 + b1 * dt_s / 2, heater_w)
        a3, b3 = self._rates(t0 + a2 * dt_s / 2, w0 + b2 * dt_s / 2, heater_w)
        a4, b4 = self._rates(t0 + a3 * dt_s, w0 + b3 * dt_s, heater_w)
        self.temp_c = t0 + dt_s * (a1 + 2 * a2 + 2 * a3 + a4) / 6
        self.wall_c = w0 + dt_s * (b1 + 2 * b2 + 2 * b3 + b4) / 6
        self.water_g = max(
            0.0, self.water_g - dt_s * _evaporation_w(t0, self.spec) / _VAPOUR_HEAT_J_PER_G
        )
        self.time_s += dt_s
        if self.spec.fat is not None and self.fat_g > 0.0:
            self._set_or_melt(self.spec.fat, dt_s)

    def _set_or_melt(self, fat: SettingFat, dt_s: float) -> None:
        """Move the set share and give or take its latent heat."""
        if self.nucleated_s is None and self.temp_c <= fat.nucleates_at_c:
            self.nucleated_s, self._growth_clock_s = self.time_s, 0.0
        change = 0.0
        if self.temp_c > fat.melts_at_c and self.solid > 0.0:
            # Slow enough that the latent heat of one step cannot undershoot the melting point.
            change = -min(self.solid, 0.004 * (self.temp_c - fat.melts_at_c) * dt_s)
            self._growth_clock_s = _growth_clock_s(fat, self.solid + change)
            if self.solid + change <= 0.0:
                self.nucleated_s = None
        elif self.nucleated_s is not None and self.temp_c < fat.melts_at_c:
            drive = (fat.melts_at_c - self.temp_c) / (fat.melts_at_c - fat.nucleates_at_c)
            self._growth_clock_s += dt_s * min(1.0, max(0.0, drive))
            grown = 1.0 - math.exp(-((self._growth_clock_s / fat.growth_s) ** 2.5))
            change = max(0.0, fat.sets_share * grown - self.solid)
        heat_j = change * self.fat_g * fat.latent_j_per_g
        self.solid += change
        self.temp_c += heat_j / max(self._heat_capacity(), 1.0)


def _growth_clock_s(fat: SettingFat, solid: float) -> float:
    """Return how long the growth law needs for a set share [s]: where it goes on from."""
    share = min(max(solid, 0.0) / fat.sets_share, 1.0 - 1e-9)
    return float(fat.growth_s * (-math.log1p(-share)) ** 0.4)


def _heat_capacity(water_g: float, fat_g: float) -> float:
    return water_g * WATER_J_PER_G_K + fat_g * FAT_J_PER_G_K


def _loss_w(temp_c: float, spec: VesselSpec) -> float:
    """Heat lost from a surface at ``temp_c`` to the air [W], negative when it is colder."""
    excess = temp_c - spec.ambient_c
    size = (abs(excess) / _REFERENCE_EXCESS_K) ** (spec.loss_exponent - 1.0) if excess else 0.0
    return spec.loss_w_per_k * excess * size


def _vapour_g_m3(temp_c: float) -> float:
    """Water vapour at saturation [g/m3] (Magnus formula, WMO-No. 8, annex 4.B; ideal gas)."""
    pressure_pa = 611.2 * math.exp(17.62 * temp_c / (243.12 + temp_c))
    return 1000.0 * pressure_pa / (461.5 * (temp_c + 273.15))


def _evaporation_w(temp_c: float, spec: VesselSpec) -> float:
    """Heat taken by water that evaporates from the open surface [W], never below 0."""
    if spec.open_cm2 <= 0.0:
        return 0.0
    excess_g_m3 = _vapour_g_m3(temp_c) - spec.humidity * _vapour_g_m3(spec.ambient_c)
    # Mass transfer of still air over warm water, about 5 mm/s: common practice, no source.
    return max(0.0, _VAPOUR_HEAT_J_PER_G * 0.005 * spec.open_cm2 * 1e-4 * excess_g_m3)
