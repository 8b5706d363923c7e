"""Seeded pours as a bowl scale shows them, with the truth; not what the detector assumes.

A hand that wanders in its rate, spurts with pauses, a whisk that beats, hands that touch the bowl,
a scale that filters, is noisy and rounds.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter


@dataclass(frozen=True, slots=True, kw_only=True)
class PourTrace:
    """Readings of a bowl scale around one pour, and what truly went in."""

    t_s: np.ndarray
    mass_g: np.ndarray
    start_s: float
    end_s: float
    poured_g: float
    gives: bool
    step_g: float
    kind: str

    @property
    def rate_g_per_min(self) -> float:
        """True mean rate [g/min]."""
        return 60.0 * self.poured_g / (self.end_s - self.start_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Under which a pour is drawn: how often the scale sends, and how it is touched."""

    rates_hz: tuple[float, ...] = (5.0, 10.0)
    fewest: int = 2
    most: int = 5
    heaviest_g: float = 90.0


HEAVY = Conditions()
"""Two to five touches of up to 90 g each, anywhere from ahead of the pour to after it."""
HEAVY_ANY_RATE = Conditions(rates_hz=(2.0, 5.0, 10.0, 20.0))
ORDINARY = Conditions(rates_hz=(2.0, 5.0, 10.0, 20.0), fewest=0, most=2, heaviest_g=30.0)
"""What a careful cook does: none to two touches of up to 30 g."""


def pour_trace(seed: int, conditions: Conditions = HEAVY) -> PourTrace:
    """Draw a pour: steady or in spurts, onto or off the scale, touched and stirred."""
    rng = np.random.default_rng(seed)
    rate_hz = float(rng.choice(conditions.rates_hz))
    step_g = float(rng.choice((0.1, 0.5, 1.0)))
    t = np.arange(0.0, 420.0, 1.0 / rate_hz)
    start_s, total_g = float(rng.uniform(45.0, 80.0)), float(rng.uniform(60.0, 400.0))
    kind = "steady" if rng.random() < 0.5 else "pulsed"
    poured = _steady(t, start_s, total_g, rng) if kind == "steady" else _spurts(
        t, start_s, total_g, rng
    )  # fmt: skip
    inside = np.flatnonzero((poured > 0.0) & (poured < poured[-1]))
    end_s = float(t[inside[-1] + 1])
    gives = bool(rng.random() < 0.4)
    bowl_g = float(rng.uniform(300.0, 900.0)) + (poured[-1] if gives else 0.0)
    load = bowl_g + (-poured if gives else poured)
    load += _touches(t, end_s, rng, conditions)
    if not gives:
        load += _whisk(t, start_s, end_s, rng)
    lag = float(np.exp(-1.0 / rate_hz / rng.uniform(0.1, 0.3)))
    shown = lfilter([1.0 - lag], [1.0, -lag], load, zi=[lag * load[0]])[0]
    shown += rng.normal(0.0, rng.uniform(0.03, 0.3), t.size)
    return PourTrace(
        t_s=t, mass_g=np.round(shown / step_g) * step_g, start_s=start_s, end_s=end_s,
        poured_g=float(poured[-1]), gives=gives, step_g=step_g, kind=kind,
    )  # fmt: skip


def quiet_trace(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Touches, stirring and things put in and taken out, but no pour."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 300.0, 0.1)
    load = 600.0 + _touches(t, 200.0, rng) + _whisk(t, 60.0, 200.0, rng)
    put_s, thing_g = float(rng.uniform(50.0, 120.0)), float(rng.uniform(20.0, 150.0))
    load += thing_g * ((t > put_s) & (t < put_s + rng.uniform(20.0, 80.0)))
    shown = lfilter([0.33], [1.0, -0.67], load, zi=[0.67 * load[0]])[0]
    return t, np.round((shown + rng.normal(0.0, 0.1, t.size)) / 0.1) * 0.1


def _steady(t: np.ndarray, start_s: float, total_g: float, rng: np.random.Generator) -> np.ndarray:
    rate = float(rng.uniform(60.0, 300.0)) / 60.0
    wander = np.convolve(rng.normal(0.0, 1.0, t.size), np.ones(40) / 40.0, "same")
    flow = rate * np.clip(1.0 + wander, 0.3, 2.0) * np.clip((t - start_s) / 0.6, 0.0, 1.0)
    poured = np.cumsum(flow) * (t[1] - t[0])
    return np.minimum(poured, total_g)


def _spurts(t: np.ndarray, start_s: float, total_g: float, rng: np.random.Generator) -> np.ndarray:
    flow, at_s, left_g = np.zeros(t.size), start_s, total_g
    while left_g > 0.5:
        rate, lasts_s = float(rng.uniform(3.0, 9.0)), float(rng.uniform(1.5, 5.0))
        lasts_s = min(lasts_s, max(1.0, left_g / rate))
        flow[(t >= at_s) & (t < at_s + lasts_s)] = rate
        left_g -= rate * lasts_s
        at_s += lasts_s + float(rng.uniform(2.0, 9.0))
        if at_s > t[-1] - 60.0:
            break
    return np.cumsum(flow) * (t[1] - t[0])


def _touches(
    t: np.ndarray, end_s: float, rng: np.random.Generator, conditions: Conditions = HEAVY
) -> np.ndarray:
    load = np.zeros(t.size)
    for _ in range(int(rng.integers(conditions.fewest, conditions.most + 1))):
        at_s, lasts_s = float(rng.uniform(10.0, end_s + 30.0)), float(rng.uniform(0.3, 3.0))
        height_g = float(rng.choice((-1.0, 1.0)) * rng.uniform(3.0, conditions.heaviest_g))
        edge = np.clip((t - at_s) / 0.3, 0.0, 1.0) * np.clip((at_s + lasts_s - t) / 0.3, 0.0, 1.0)
        load += height_g * edge
    return load


def _whisk(t: np.ndarray, start_s: float, end_s: float, rng: np.random.Generator) -> np.ndarray:
    size_g, hz = float(rng.uniform(0.5, 6.0)), float(rng.uniform(1.5, 3.5))
    beats = (t > start_s - rng.uniform(5.0, 30.0)) & (t < end_s + rng.uniform(5.0, 40.0))
    phase = np.cumsum(2.0 * np.pi * hz * (1.0 + 0.1 * rng.standard_normal(t.size))) * (t[1] - t[0])
    return size_g * np.sin(phase) * beats
