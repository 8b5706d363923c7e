"""A run of known shape: traces, a pour, stages; numbers of it follow by hand."""

import numpy as np

from logger.model.bench import bench_of_roles
from logger.model.files import sheet_from_text
from logger.model.plainly import results_from
from logger.review.features.facts import RunFacts
from logger.review.learn.sheets import template
from logger.review.trace import Trace
from logger.science.fats.fatfile import builtin_fats

RATE_HZ = 5.0


def trace(function, end_s=2000.0, u=0.25, flags=0):
    t = np.arange(0.0, end_s, 1.0 / RATE_HZ)
    return Trace(
        t_ns=np.round(t * 1e9).astype(np.int64), value=np.vectorize(function)(t).astype(float),
        u=np.full(t.shape, u), flags=np.full(t.shape, flags, dtype=np.int32),
    )  # fmt: skip


def melting(t):
    """Warm from 20 at 0.1 K/s, stand 120 s at 34, go on to 54 and stay."""
    rising = 20.0 + 0.1 * min(t, 140.0)
    return rising if t < 260.0 else min(54.0, 34.0 + 0.2 * (t - 260.0))


TRACES = {
    "fat": trace(melting),
    "water": trace(lambda t: 49.0 if t < 1010.0 else 50.5),
    "emulsion": trace(lambda t: 21.0 if t < 1000.0 else 51.0),
    "bath": trace(lambda t: 19.5),
    "bath_scale": trace(lambda t: 2617.0 if t < 1400.0 else 2690.0, u=0.2),
    "bowl_scale": trace(lambda t: 753.0 + 2.0 * min(max(t - 1000.0, 0.0), 90.0), u=0.2),
}
POUR = {"channel": "bowl_scale", "start_s": 1000.0, "end_s": 1090.0, "mass_g": 180.0,
        "rate_g_per_min": 120.0}  # fmt: skip
STAGES = [
    {"id": "soak", "kind": "hydrate", "start_s": 0.0, "end_s": 20.0},
    {"id": "warm", "kind": "heat", "start_s": 20.0, "end_s": 990.0},
    {"id": "combine", "kind": "emulsify", "start_s": 990.0, "end_s": 1150.0},
    {"id": "skin", "kind": "set", "start_s": 1380.0, "end_s": 1990.0},
]


def facts(traces=TRACES, **results):
    def read(channel, from_ns, to_ns):
        found = traces[channel]
        low, high = np.searchsorted(found.t_ns, (from_ns, to_ns + 1))
        return Trace(*(part[low:high] for part in found))

    return RunFacts(
        run_id="r", sheet=sheet_from_text(template(), "s"), bench=bench_of_roles(list(traces)),
        results=results_from({"stages": STAGES, "pours": [POUR]} | results),
        outcome=None, defects=(), read=read, fats=builtin_fats(),
    )  # fmt: skip
