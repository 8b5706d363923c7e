"""What a pan carries, and what a kitchen scale shows of it.

Pure and seeded: forces over time on a fine grid, then the scale's own filter, noise, steps, tares
and silences. Knows no habit and nothing of the program but its readings and events.
"""

import datetime
import itertools
import random
from dataclasses import dataclass, field

import numpy as np

from logger.correct.channel import Corrector
from logger.model.event import Event
from logger.model.files import bench_from_text
from logger.model.reading import Flag, Reading

S = 1_000_000_000
GRID_S = 0.02
DAY = datetime.date(2026, 11, 25)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A scale: step [g], readings a second [Hz], filter [s], noise of one reading [g].

    Parallel kitchen and laboratory scales give 2 to 10 readings a second, average over 0.2 to 1 s,
    and repeat to about half a step up to a step (common practice, no source).
    """

    role: str
    step_g: float
    rate_hz: float
    filter_s: float
    noise_g: float
    linearity_g: float
    wander_g: float
    """Random walk of the zero in a minute [g]."""


def some_scale(rng, role):
    """Return a scale such as stands under a bath, a bowl or on the bench."""
    step_g = {"bath_scale": (0.1,), "bowl_scale": (0.1, 0.1, 0.5, 1.0), "bench_scale": (0.1, 0.01)}
    step_g = rng.choice(step_g[role])
    steps = rng.uniform(0.4, 1.2) if role != "bowl_scale" else rng.uniform(0.2, 0.5)
    big = role == "bath_scale"
    return Scale(
        role=role,
        step_g=step_g,
        rate_hz=rng.choice((5.0, 10.0) if big else (3.0, 5.0, 10.0)),
        filter_s=rng.choice((0.2, 0.4, 0.8)),
        noise_g=steps * step_g,
        linearity_g=0.2 if big else max(0.02, step_g),
        wander_g=rng.uniform(0.0, 0.06 if big else 0.02),
    )


def bench_with(scale):
    """Return a bench that has this scale alone."""
    return bench_from_text(
        f"""
[[instrument]]
id = "scale"
port = "none"
shape = "flag-first scale"
[[channel]]
id = "{scale.role}"
instrument = "scale"
field = "mass"
role = "{scale.role}"
resolution = {scale.step_g}
sensor = {{ kind = "balance", linearity = "{scale.linearity_g} g" }}
""",
        "bench.toml",
    )


@dataclass(slots=True)
class Pan:
    """A pan and the person before it; `t_s` is how far the person has come [s]."""

    rng: random.Random
    start_g: float = 0.0
    drift_g_h: float = 0.0
    t_s: float = 0.0
    ramps: list[tuple[float, float, float]] = field(default_factory=list)
    shakes: list[tuple[float, float, float, float]] = field(default_factory=list)
    rings: list[tuple[float, float]] = field(default_factory=list)
    tares: list[tuple[float, bool]] = field(default_factory=list)
    silences: list[tuple[float, float]] = field(default_factory=list)
    acts: list[Event] = field(default_factory=list)

    def wait(self, *between_s):
        """Do nothing for a time between two [s]."""
        self.t_s += self.rng.uniform(*between_s)
        return self

    def put(self, mass_g, over_s=0.6):
        """Change the load by a mass [g], over a time [s]."""
        self.ramp(self.t_s, mass_g, over_s)
        self.t_s += over_s
        return self

    def ramp(self, at_s, mass_g, over_s):
        """Have the load change at a time [s], whatever the person does meanwhile."""
        self.ramps.append((at_s, max(over_s, GRID_S), mass_g))

    def touch(self, from_s, for_s, force_g):
        """A force that comes and goes: a hand, tongs in the water, a spoon [g]."""
        self.ramp(from_s, force_g, 0.25)
        self.ramp(from_s + for_s, -force_g, 0.25)

    def shake(self, from_s, to_s, sigma_g, push_g=0.0):
        """Stir or knock: a force about a mean push [g]."""
        self.shakes.append((from_s, to_s, sigma_g, push_g))

    def ring(self, at_s, amplitude_g):
        """Let the water slosh after something fell in [g]."""
        self.rings.append((at_s, amplitude_g))

    def tare(self, *, said=False):
        """Press the tare key now; the scale says so or does not."""
        self.tares.append((self.t_s, said))
        return self

    def silence(self, from_s, to_s, *, power=False):
        """Unplug the scale's cable for a time [s]; without power it comes back at zero."""
        self.silences.append((from_s, to_s))
        if power:
            self.tares.append((to_s, False))

    def do(self, kind, at_s=None, **data):
        """Press a key of the program."""
        t_ns = round((self.t_s if at_s is None else at_s) * S)
        self.acts.append(Event(t_ns=t_ns, kind=kind, source="operator", data=data))
        return self

    def _force(self, grid, wander_g):
        noise = np.random.default_rng(self.rng.getrandbits(32))
        force = self.start_g + self.drift_g_h / 3600.0 * grid
        walk = noise.normal(0.0, wander_g * np.sqrt(GRID_S / 60.0), grid.size)
        force = force + np.cumsum(walk)
        for at_s, over_s, mass_g in self.ramps:
            x = np.clip((grid - at_s) / over_s, 0.0, 1.0)
            force += mass_g * x * x * (3.0 - 2.0 * x)
        for at_s, amplitude_g in self.rings:
            after = np.maximum(grid - at_s, 0.0)
            force += np.where(
                after > 0, amplitude_g * np.exp(-after / 1.2) * np.sin(9.0 * after), 0.0
            )
        for from_s, to_s, sigma_g, push_g in self.shakes:
            inside = (grid >= from_s) & (grid < to_s)
            hz, phase = self.rng.uniform(1.5, 3.0), self.rng.uniform(0.0, 6.0)
            swing = np.sin(2 * np.pi * hz * grid + phase) * sigma_g * 1.2
            force += inside * (push_g + swing + noise.normal(0.0, sigma_g * 0.6, grid.size))
        return force

    def shown(self, scale, until_s):
        """Return the readings of the scale up to a time [s], and what its tare key said.

        The display is a trailing mean of the force; a tare takes what the display holds then.
        """
        noise = np.random.default_rng(self.rng.getrandbits(32))
        grid = np.arange(0.0, until_s, GRID_S)
        width = max(1, round(scale.filter_s / GRID_S))
        sums = np.cumsum(np.concatenate([np.zeros(1), self._force(grid, scale.wander_g)]))
        first = np.maximum(np.arange(1, grid.size + 1) - width, 0)
        mean = (sums[1:] - sums[first]) / (np.arange(1, grid.size + 1) - first)
        zero = np.zeros(grid.size)
        said = []
        for at_s, is_said in sorted(self.tares):
            place = min(int(at_s / GRID_S), grid.size - 1)
            zero[place:] = mean[place] + noise.normal(0.0, scale.noise_g / 2)
            if is_said:
                said.append(_bench_event(scale, at_s, "tare"))
        corrector = Corrector(bench_with(scale).channel[0], DAY)
        items: list = []
        for k in range(int(until_s * scale.rate_hz)):
            t_s = (k + 1) / scale.rate_hz + noise.uniform(0.0, 0.02)
            place = int(t_s / GRID_S)
            if place >= grid.size or any(a <= t_s < b for a, b in self.silences):
                continue
            value = mean[place] - zero[place] + noise.normal(0.0, scale.noise_g)
            value = round(round(value / scale.step_g) * scale.step_g, 3)
            flags = int(Flag.NET) if said and zero[place] else 0
            u_g = corrector.u_at(value)
            items.append(Reading(scale.role, round(t_s * S), value, u_g, flags))
        return items, said


def _bench_event(scale, at_s, kind):
    return Event(t_ns=round(at_s * S), kind=kind, source="bench", channel=scale.role)


def stream(pan, scale, until_s):
    """Return readings and acts in the order of time."""
    readings, said = pan.shown(scale, until_s)
    items = [*pan.acts, *said, *readings]
    ordered = sorted(
        enumerate(items), key=lambda place: (place[1].t_ns, isinstance(place[1], Reading), place[0])
    )
    return [item for _, item in ordered]


def in_steps(items, step_s, until_s):
    """Cut a stream into pieces of `step_s` [s]; yields the piece and up to when it goes [s]."""
    place = 0
    for n in itertools.count(1):
        t_s = min(n * step_s, until_s)
        first = place
        while place < len(items) and items[place].t_ns <= t_s * S:
            place += 1
        yield items[first:place], t_s
        if t_s >= until_s:
            return


@dataclass(slots=True, kw_only=True)
class Dip:
    """A piece in the bath: when the lowering and the lifting began and ended [s], its mass [g]."""

    mass_g: float
    in_s: tuple[float, float]
    out_s: tuple[float, float]
    hidden: bool = False
    """Whether the scale was silent during the lowering or the lifting."""

    @property
    def dwell_s(self):
        """From the middle of the lowering to the middle of the lifting [s]."""
        return sum(self.out_s) / 2 - sum(self.in_s) / 2

    @property
    def between_s(self):
        """Shortest and longest time that may be called its dwell [s]."""
        return self.out_s[0] - self.in_s[1], self.out_s[1] - self.in_s[0]


@dataclass(slots=True, kw_only=True)
class Case:
    """One seeded piece of work: sheet, stream and truth."""

    work: str
    habit: str
    seed: int
    sheet: str
    scale: Scale
    pan: Pan
    dips: list[Dip] = field(default_factory=list)
    band_s: tuple[float, float] = (0.0, 0.0)
    poured_g: float = 0.0
    weighed_g: dict[str, float] = field(default_factory=dict)
    can_be_known: bool = True
    """False where even a careful observer of the trace alone could not tell."""

    @property
    def until_s(self):
        return self.pan.t_s
