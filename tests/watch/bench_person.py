"""A person at a bench scale: puts things on, takes them off, tares, speaks. Seeded noise."""

import datetime
import random

from logger.correct.channel import Corrector
from logger.model.event import Event
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.reading import Flag, Reading
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import SECOND_NS, Engine

S = SECOND_NS
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
sensor = {{ kind = "balance", oiml_class = "II", verification_interval = "{step} g" }}
"""


class Person:
    """A bench scale of some step [g] and rate, with a person before it.

    Everything fed is kept in `items`, to be fed again in other pieces.
    """

    def __init__(self, sheet, *, step_g=0.1, rate_hz=5, flags=False, roles=True):
        self.sheet = sheet_from_text(sheet, "s")
        text = BENCH.format(step=step_g) if roles else '[bench]\nname = "Empty table"\n'
        self.bench = bench_from_text(text, "bench.toml")
        self.correctors = {
            c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in self.bench.channel
        }
        self.engine = self.new_engine()
        self.noise = random.Random(7)
        self.step_g, self.rate_hz, self.flags = step_g, rate_hz, flags
        self.t_s = self.load_g = self.tare_g = 0.0
        self.items, self.said = [], []
        self.do("run_start").do("next")

    def new_engine(self):
        return Engine(self.sheet, self.bench, correctors=self.correctors, fats=builtin_fats())

    def _feed(self, items):
        self.items += items
        self.said += self.engine.feed(items, round(self.t_s * S))
        return self

    def do(self, kind, **data):
        source = "bench" if kind == "tare" else "operator"
        channel = "bench_scale" if kind == "tare" else None
        t_ns = round(self.t_s * S)
        return self._feed([Event(t_ns=t_ns, kind=kind, source=source, channel=channel, data=data)])

    def put(self, mass_g, seconds=4.0, over_s=0.6, evaporates_g_h=0.0):
        """Change the load by a mass over a time, then wait."""
        start_g, count = self.load_g, round((over_s + seconds) * self.rate_hz)
        items = []
        for k in range(1, count + 1):
            after_s = k / self.rate_hz
            self.load_g = (
                start_g + mass_g * min(1.0, after_s / over_s) - evaporates_g_h * after_s / 3600
            )
            noisy_g = self.load_g - self.tare_g + self.noise.gauss(0, 0.15 * self.step_g)
            shown_g = round(round(noisy_g / self.step_g) * self.step_g, 4)
            flags = int(Flag.NET) if self.flags and self.tare_g else 0
            u_g = self.correctors["bench_scale"].u_at(shown_g)
            t_ns = round((self.t_s + after_s) * S)
            items.append(Reading("bench_scale", t_ns, shown_g, u_g, flags))
        self.t_s += over_s + seconds
        return self._feed(items)

    def wait(self, seconds=4.0, **how):
        return self.put(0.0, seconds, **how)

    def weigh(self, *masses_g):
        """Put each on and take it off again."""
        for mass_g in masses_g:
            self.put(mass_g).put(-mass_g)
        return self

    def tare(self):
        self.tare_g = self.load_g
        return self.wait()

    @property
    def view(self):
        return self.engine.state(round(self.t_s * S)).view

    @property
    def pieces(self):
        return {r.piece: r for r in self.engine.results().pieces}

    def end(self):
        return self.engine.finish(round(self.t_s * S)).findings

    def same_in_pieces(self, size):
        """Return whether another cutting of the stream gives the same events and results."""
        engine, said = self.new_engine(), []
        for first in range(0, len(self.items), size):
            part = self.items[first : first + size]
            last_ns = part[-1].t_ns
            said += engine.feed(part, last_ns)
            engine.state(last_ns)
        end_ns = round(self.t_s * S)
        said += engine.feed([], end_ns)
        alike = said == self.said and engine.state(end_ns) == self.engine.state(end_ns)
        return alike and repr(engine.finish(end_ns)) == repr(self.engine.finish(end_ns))
