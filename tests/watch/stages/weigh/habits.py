"""Weighings as people do them, each with the truth: what went into the batch of every ingredient.

A scale with a lag, noise and a step is read while a made-up cook weighs in by one of the habits of
`HABITS`. Seeded; knows nothing of the watcher.
"""

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from logger.correct.channel import Corrector
from logger.model.event import Event
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.reading import Flag, Reading
from logger.virtual.bodies.loads import Load, Scale, weigh
from logger.watch.engine.engine import Engine

S = 1_000_000_000
BENCH = """
[[instrument]]
id = "scale"
port = "none"
shape = "flag-first scale"
[[channel]]
id = "bench_scale"
instrument = "scale"
field = "mass"
role = "bench_scale"
resolution = {step}
sensor = {{ kind = "balance", linearity = "0.05 g" }}
"""
BOWLS: tuple[tuple[tuple[str, float], ...], ...] = (
    (("cocoa butter", 180.0),),
    (("beet stock", 330.0), ("malt binder", 8.0), ("salt", 5.0)),
    (("cooked barley", 120.0),),
    (("coating water", 492.5), ("sodium alginate", 7.5)),
    (("bath water", 1490.0), ("calcium chloride", 10.0)),
)
SMALL: tuple[tuple[tuple[str, float], ...], ...] = (
    (("cream", 240.0), ("binder", 12.0), ("salt", 8.0), ("pepper", 3.0)),
    (("dip water", 300.0), ("alginate", 4.5)),
)
TOLERANCE_PERCENT = 3.0


@dataclass(slots=True)
class Session:
    """One weighing.

    Attributes
    ----------
    sheet : str
        The sheet's text.
    items : list
        Readings and events in order.
    truth_g : dict
        What went in, by name [g].
    loads : list
        When something of an ingredient went in or out [s], and its name.
    end_ns : int
        When the stage ends [ns].
    """

    habit: str
    step_g: float
    sheet: str
    items: list = field(default_factory=list)
    truth_g: dict = field(default_factory=dict)
    loads: list = field(default_factory=list)
    end_ns: int = 0


class Cook:
    """Does things at a scale; times in seconds, masses in g."""

    def __init__(self, rng):
        self.rng = rng
        self.load = Load()
        self.now = float(rng.uniform(2.0, 6.0))
        self.on_g = 0.0
        self.marks_s: list[float] = []
        self.truth_g: dict[str, float] = {}
        self.loads: list[tuple[float, str]] = []

    def takes(self, low_s, high_s):
        self.now += float(self.rng.uniform(low_s, high_s))

    def put(self, mass_g, rise_s):
        self.load.put(self.now, mass_g, rise_s)
        self.on_g += mass_g
        self.now += rise_s

    def other(self):
        """What moves now is no ingredient."""
        self.loads.append((self.now, ""))

    def bowl(self, mass_g=None):
        mass_g = float(self.rng.uniform(90.0, 520.0)) if mass_g is None else mass_g
        self.takes(2.0, 5.0)
        self.other()
        self.put(mass_g, float(self.rng.uniform(0.2, 0.5)))
        self.takes(2.0, 4.0)
        return mass_g

    def clear(self):
        self.takes(1.5, 3.0)
        self.other()
        self.put(-self.on_g, 0.35)
        self.on_g = 0.0
        self.takes(2.0, 4.0)

    def tare(self, pause=(1.5, 3.5)):
        self.load.tares_s.append(self.now)
        self.takes(*pause)

    def mark(self):
        self.marks_s.append(self.now)
        self.takes(0.8, 2.0)

    def pour(self, name, mass_g, portions=None):
        """Put an ingredient in, in one to three helpings."""
        self.takes(2.0, 7.0)
        count = portions or int(self.rng.integers(1, 4))
        shares = {1: (1.0,), 2: (0.9, 0.1), 3: (0.8, 0.15, 0.05)}[count]
        for share in shares:
            self.loads.append((self.now, name))
            self.put(share * mass_g, float(self.rng.uniform(0.7, 1.5) * (1.0 + mass_g / 150.0)))
            self.takes(1.5, 2.5)
        self.takes(1.0, 3.0)
        self.truth_g[name] = self.truth_g.get(name, 0.0) + mass_g

    def amount(self, target_g, step_g):
        """Return what a careful cook puts in."""
        return target_g + float(self.rng.normal(0.0, 0.004 * target_g + 0.5 * step_g))


Bowls = tuple[tuple[tuple[str, float], ...], ...]


def in_order(cook: Cook, bowls: Bowls, step_g: float, **masses) -> None:
    """A bowl, the tare key, one ingredient after the other, each marked."""
    for bowl in bowls:
        cook.bowl()
        cook.tare()
        for name, target_g in bowl:
            cook.pour(name, masses.get(name) or cook.amount(target_g, step_g))
            cook.mark()
        cook.clear()


def tare_each(cook: Cook, bowls: Bowls, step_g: float, masses=None) -> None:
    """The tare key after the bowl and after each ingredient."""
    for bowl in bowls:
        cook.bowl()
        cook.tare()
        for name, target_g in bowl:
            cook.pour(name, (masses or {}).get(name) or cook.amount(target_g, step_g))
            cook.tare()
        cook.clear()


def cumulative(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """Neither tare nor mark: the display just goes up."""
    for bowl in bowls:
        cook.bowl()
        for name, target_g in bowl:
            cook.pour(name, cook.amount(target_g, step_g))
        cook.clear()


def another_order(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """Bowls, and ingredients in a bowl, in any order; tared or marked."""
    order = [bowls[k] for k in cook.rng.permutation(len(bowls))]
    mixed = tuple(tuple(bowl[k] for k in cook.rng.permutation(len(bowl))) for bowl in order)
    if cook.rng.random() < 0.5:
        tare_each(cook, mixed, step_g)
    else:
        in_order(cook, mixed, step_g)


def two_portions(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """One ingredient comes in two portions, with the tare key or the rest of the bowl between."""
    names = [name for bowl in bowls for name, _ in bowl]
    chosen = str(cook.rng.choice(names))
    for bowl in bowls:
        cook.bowl()
        cook.tare()
        later = None
        for name, target_g in bowl:
            mass_g = cook.amount(target_g, step_g)
            first_g = mass_g * float(cook.rng.uniform(0.35, 0.75)) if name == chosen else mass_g
            cook.pour(name, first_g, 1 if name == chosen else None)
            cook.tare()
            if name == chosen and (len(bowl) == 1 or cook.rng.random() < 0.5):
                cook.pour(name, mass_g - first_g, 1)
                cook.tare()
            elif name == chosen:
                later = name, mass_g - first_g
        if later is not None:
            cook.pour(*later, 1)
            cook.tare()
        cook.clear()


def short(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """One ingredient is short by up to half, tare key each."""
    tare_each(cook, bowls, step_g, _one_off(cook, bowls, 0.45, 0.75))


def over(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """One ingredient is over by up to half or more, tare key each."""
    tare_each(cook, bowls, step_g, _one_off(cook, bowls, 1.25, 1.6))


def vessels(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """Each ingredient in a vessel of its own, that comes and goes; tared or marked when empty."""
    tares = cook.rng.random() < 0.5
    for bowl in bowls:
        for name, target_g in bowl:
            light = target_g < 20.0 and cook.rng.random() < 0.5
            cook.bowl(float(cook.rng.uniform(25.0, 90.0)) if light else None)
            if tares:
                cook.tare()
            else:
                cook.mark()
            cook.pour(name, cook.amount(target_g, step_g))
            cook.clear()


def marks(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """No tare key: the bowl and each ingredient are marked; one may be far over."""
    masses = _one_off(cook, bowls, 1.3, 2.5) if cook.rng.random() < 0.5 else {}
    for bowl in bowls:
        cook.bowl()
        cook.mark()
        for name, target_g in bowl:
            cook.pour(name, masses.get(name) or cook.amount(target_g, step_g))
            cook.mark()
        cook.clear()


def tare_below_zero(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """The tare key is pressed with the bowl away, or before the pan is at rest."""
    for bowl in bowls:
        cook.takes(1.0, 3.0)
        if cook.rng.random() < 0.4:
            cook.load.put(cook.now, -float(cook.rng.uniform(0.4, 2.0)), 0.3)
            cook.takes(1.5, 3.0)
            cook.tare()
        cook.bowl()
        cook.tare()
        for name, target_g in bowl:
            cook.pour(name, cook.amount(target_g, step_g))
            cook.tare()
        cook.clear()
        cook.tare()


def out_of_a_jar(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """Small ones are taken out of their jar on the scale: the display goes below nought."""
    for bowl in bowls:
        small = [each for each in bowl if each[1] < 20.0]
        rest = tuple(each for each in bowl if each not in small)
        if rest:
            tare_each(cook, (rest,), step_g)
        for name, target_g in small:
            mass_g = cook.amount(target_g, step_g)
            cook.bowl(float(cook.rng.uniform(200.0, 700.0)))
            cook.tare()
            cook.takes(1.0, 3.0)
            for share in (0.7, 0.3) if cook.rng.random() < 0.5 else (1.0,):
                cook.loads.append((cook.now, name))
                cook.put(-share * mass_g, 0.6)
                cook.takes(2.0, 4.0)
            cook.truth_g[name] = mass_g
            cook.clear()
            cook.tare()


def bumped(cook: Cook, bowls: Bowls, step_g: float) -> None:
    """Knocks, a hand on the bowl, a bowl lifted and set back, slow drift."""
    for bowl in bowls:
        cook.bowl()
        cook.tare()
        for name, target_g in bowl:
            cook.pour(name, cook.amount(target_g, step_g))
            what = cook.rng.random()
            if what < 0.35:
                cook.load.knocks.append(
                    (
                        cook.now,
                        float(cook.rng.uniform(-60.0, 250.0)),
                        float(cook.rng.uniform(0.2, 0.7)),
                    )
                )
                cook.takes(2.0, 3.5)
            elif what < 0.6:
                held_g = float(cook.rng.uniform(15.0, 400.0))
                cook.put(held_g, 0.4)
                cook.takes(1.5, 3.0)
                cook.put(-held_g, 0.4)
                cook.takes(2.0, 3.5)
            elif what < 0.8:
                on_g = cook.on_g
                cook.put(-on_g, 0.4)
                cook.takes(2.0, 5.0)
                cook.put(on_g, 0.4)
                cook.takes(2.0, 3.5)
            cook.tare()
        cook.clear()
    drift_g_s = float(cook.rng.uniform(-0.4, 0.4)) * step_g / 60.0 * 5.0
    times_s = np.array([0.0, cook.now + 60.0])
    cook.load.profiles.append((times_s, drift_g_s * times_s, float(times_s[1])))


HABITS: dict[str, Callable[..., None]] = {
    "in order, marked": in_order,
    "tare key each": tare_each,
    "cumulative, no tare": cumulative,
    "another order": another_order,
    "two portions of one": two_portions,
    "short by half": short,
    "over by half": over,
    "vessel on and off": vessels,
    "marks, no tare": marks,
    "tare below zero": tare_below_zero,
    "out of a jar": out_of_a_jar,
    "bumped, lifted, drift": bumped,
}


def _one_off(cook: Cook, bowls: Bowls, low: float, high: float) -> dict[str, float]:
    every = [each for bowl in bowls for each in bowl]
    name, target_g = every[int(cook.rng.integers(len(every)))]
    return {name: target_g * float(cook.rng.uniform(low, high))}


def sheet_of(bowls: Bowls, *, tolerance: bool) -> str:
    """Return the sheet's text."""
    lines = ["[sheet]", 'name = "Made up"']
    phases = ("fat", "water", "filling", "coat", "bath")
    for place, bowl in enumerate(bowls):
        for name, target_g in bowl:
            lines += ["[[ingredient]]", f'name = "{name}"', f'phase = "{phases[place]}"']
            lines.append(f'mass = "{target_g:g} g"')
            if tolerance:
                lines.append(f'tolerance = "{TOLERANCE_PERCENT:g} %"')
    return "\n".join([*lines, "[[stage]]", 'id = "weigh"', 'kind = "weigh"']) + "\n"


def session(seed: int, habit: str, *, small: bool = False) -> Session:
    """Return the weighing of a seed and a habit, or one of few ingredients."""
    rng = np.random.default_rng([seed, list(HABITS).index(habit)])
    bowls = BOWLS if rng.random() < 0.6 and not small else SMALL
    step_g = float(rng.choice([0.01, 0.1]))
    rate_hz = float(rng.choice([4.0, 5.0, 10.0]))
    cook = Cook(rng)
    HABITS[habit](cook, bowls, step_g)
    cook.takes(3.0, 6.0)
    times_s = np.arange(0.0, cook.now, 1.0 / rate_hz)
    scale = Scale(step_g=step_g, noise_g=float(rng.uniform(0.1, 0.5)) * step_g)
    seen = weigh(scale, cook.load, times_s, rng)
    bench = bench_from_text(BENCH.format(step=step_g), "bench.toml")
    corrector = Corrector(bench.channel[0], datetime.date(2026, 11, 25))
    flagged = rng.random() < 0.4
    items: list = [Event(t_ns=0, kind="run_start", source="operator")]
    items.append(Event(t_ns=0, kind="next", source="operator"))
    for t_s, value_g, stable, net in zip(times_s, seen.value_g, seen.stable, seen.net, strict=True):
        flags = 0
        if flagged:
            flags = int(Flag.STABLE if stable else Flag.UNSTABLE) | (int(Flag.NET) if net else 0)
        shown_g = round(float(value_g), 3)
        items.append(
            Reading("bench_scale", round(t_s * S), shown_g, corrector.u_at(shown_g), flags)
        )
    items += [Event(t_ns=round(t * S), kind="mark", source="operator") for t in cook.marks_s]
    items.sort(key=lambda item: item.t_ns)
    return Session(
        habit=habit,
        step_g=step_g,
        sheet=sheet_of(bowls, tolerance=bool(rng.random() < 0.7)),
        items=items,
        truth_g=cook.truth_g,
        loads=cook.loads,
        end_ns=round(cook.now * S),
    )


def engine_of(made: Session) -> Engine:
    """Return a new engine for a weighing."""
    bench = bench_from_text(BENCH.format(step=made.step_g), "bench.toml")
    correctors = {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in bench.channel}
    return Engine(sheet_from_text(made.sheet, "s"), bench, correctors=correctors)
