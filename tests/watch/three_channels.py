"""Two probes and the bath scale, each a function of time or silent, through the engine."""

import random

from logger.model.event import Event
from logger.model.reading import Reading
from logger.watch.engine.engine import SECOND_NS, Engine
from tests.watch.watched import Watched

S = SECOND_NS
PROBES = """
[bench]
name = "Table 2"
[[instrument]]
id = "probes"
port = "none"
shape = "comma list of probes"
[[instrument]]
id = "scale"
port = "none"
shape = "flag-first scale"
[[channel]]
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
[[channel]]
id = "water"
instrument = "probes"
field = "t2"
role = "water"
[[channel]]
id = "bath_scale"
instrument = "scale"
field = "mass"
role = "bath_scale"
"""


class ThreeChannels(Watched):
    """A run in which each channel is a function of time, or silent."""

    def __init__(self, sheet, bench):
        self.engine = Engine(sheet, bench, correctors={})
        self.said = []
        self.t_s = 0.0
        self.noise = random.Random(4)
        self.feed([Event(t_ns=0, kind="run_start", source="operator")])

    def feed(self, items):
        self.said += self.engine.feed(items, round(self.t_s * S))

    def play(self, seconds, *, rate_hz=10, flags=None, **values):
        """Play a time; a channel that is not named, or gives None without flags, is silent."""
        flags = flags or {}
        items = []
        for k in range(int(seconds * rate_hz)):
            t_s = self.t_s + (k + 1) / rate_hz
            for channel, what in values.items():
                value = what(t_s) if callable(what) else what
                if value is not None or channel in flags:
                    reading = Reading(channel, round(t_s * S), value, 0.3, flags.get(channel, 0))
                    items.append(reading)
        self.t_s += seconds
        self.feed(items)

    def jitter(self, level, sigma=0.05, digits=2):
        return lambda t_s: round(level + self.noise.gauss(0.0, sigma), digits)

    def kinds(self, *wanted):
        return [(e.kind, e.channel) for e in self.said if e.kind in wanted]

    def channel(self, channel_id):
        return next(c for c in self.state.channels if c.id == channel_id)


def all_three(run):
    """Return what to play of all channels: calm, each with the noise of its kind."""
    return {"fat": run.jitter(52), "water": run.jitter(48), "bath_scale": run.jitter(900, 0.02, 1)}
