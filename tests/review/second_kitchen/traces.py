"""What the sensors of the second kitchen show of a batch, judged by the engine in memory.

Readings once a second, scales four times. Bodies warm by Newton's law with time constants of
their own; the fat has a plateau while it melts. No bath scale: pieces are said by foot switch.
"""

import datetime
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np

from logger.correct.channel import Corrector
from logger.model.event import Event
from logger.model.reading import Reading
from logger.recorder.live.pipeline import Pipeline
from logger.review.features.facts import RunFacts
from logger.review.features.portrait import Portrait, portrait
from logger.review.trace import Trace
from logger.science.fats.fatfile import builtin_fats
from tests.review.second_kitchen.cook import BY_PIECE, WRONGS, Day, good_day
from tests.review.second_kitchen.outcome import came_out, mixed_c
from tests.review.second_kitchen.product import SCALES, SECOND_CORE, SHEET, bench

DAY = datetime.date(2026, 11, 25)
FATS = builtin_fats()
ROOM_C = 22.0
_ON_S, _OFF_S, _DIP_S = 7.0, 3.0, 9.0


class Film:
    """Collects readings and acts of one batch as time goes by."""

    def __init__(self, day: Day, rng: np.random.Generator) -> None:
        self.day, self.rng = day, rng
        self.now_s = 0.0
        self.events = [Event(t_ns=0, kind="run_start", source="operator", text=SHEET.sheet.name)]
        self.shown: dict[str, list[tuple[np.ndarray, np.ndarray]]] = {}

    def act(self, kind: str, **data: object) -> None:
        """Let the cook do something now."""
        at_ns = round(self.now_s * 1e9)
        self.events.append(Event(t_ns=at_ns, kind=kind, source="operator", data=data))

    def lasts(self, seconds: float, **bodies: object) -> None:
        """Let time go by; each body is a function of the seconds since now, or a constant."""
        for role, body in bodies.items():
            step = 0.25 if role in SCALES else 1.0
            t = np.arange(0.0, seconds, step)
            value = body(t) if callable(body) else np.full(t.size, float(body))  # type: ignore[arg-type]  # else a number
            noise = 0.015 if role in SCALES else 0.06
            value = value + noise * self.rng.standard_normal(t.size)
            places = 2 if role in SCALES else 1
            self.shown.setdefault(role, []).append((self.now_s + t, np.round(value, places)))
        self.now_s += seconds


def towards(start: float, end: float, tau_s: float):
    """Return Newton's law from one temperature to another."""
    return lambda t: end + (start - end) * np.exp(-t / tau_s)


def melting(end_c: float, seconds: float):
    """Return fat that warms, stands at 33 degC while it melts, and reaches its end in time."""

    def body(t: np.ndarray) -> np.ndarray:
        parts = [0.0, 0.3 * seconds, 0.55 * seconds, 0.9 * seconds, seconds]
        return np.interp(t, parts, [18.0, 32.5, 33.3, end_c, end_c])

    return body


def filmed(day: Day, rng: np.random.Generator) -> Film:
    """Play the whole batch."""
    film = Film(day, rng)
    probes = {"core": ROOM_C, "bath": towards(day.bath_c, day.bath_c, 1.0)}
    film.act("stage", stage="swell")
    film.lasts(day.swell_s, **probes)
    _emulsion(film, probes)
    _pieces(film)
    film.act("stage", stage="wash")
    film.lasts(day.wash_s, bath=day.bath_c)
    film.act("stage", stage="oven")
    cores = {"core": towards(15.0, day.core_c + 0.4, 75.0)}
    if day.second_core is not None:
        end_c = day.core_c + 0.4 + float(day.core_off_k[day.second_core])
        cores[SECOND_CORE] = towards(15.0, end_c, 75.0)
    film.lasts(420.0, **cores)
    film.act("stage", stage="pass")
    film.lasts(day.pass_s, core=towards(day.core_c, 62.0, 500.0))
    return film


def _emulsion(film: Film, probes: dict[str, object]) -> None:
    day = film.day
    fat_probe, water_probe = ("water", "fat") if day.swapped else ("fat", "water")
    film.act("stage", stage="heat")
    warming = {
        fat_probe: melting(day.fat_c, 420.0),
        water_probe: towards(20.0, day.water_c, 70.0),
        "emulsion": ROOM_C,
        "bowl_scale": 300.0,
    }
    film.lasts(420.0, **probes, **warming)
    film.act("stage", stage="beat")
    still = {fat_probe: day.fat_c, water_probe: day.water_c, "emulsion": day.water_c}
    film.lasts(20.0, **probes, **still, bowl_scale=300.0)
    pour_s = 60.0 * day.fat_g / day.rate_g_min
    end_c = mixed_c(day)
    film.lasts(
        pour_s,
        **probes,
        **{fat_probe: towards(day.fat_c, day.fat_c - 1.5, 80.0)},
        **{water_probe: towards(day.water_c, end_c, pour_s / 4.0)},
        emulsion=towards(day.water_c, end_c, pour_s / 4.0),
        bowl_scale=lambda t: 300.0 + day.fat_g * np.minimum(t / pour_s, 1.0),
    )
    left = towards(day.fat_c - 1.5, ROOM_C, 90.0)  # the emptied pan cools fast
    after = {fat_probe: left, water_probe: end_c, "emulsion": end_c}
    film.lasts(60.0, **probes, **after, bowl_scale=300.0 + day.fat_g)


def _pieces(film: Film) -> None:
    day = film.day
    film.act("stage", stage="roll")
    film.lasts(5.0, bench_scale=0.0, bath=day.bath_c)
    for mass_g in day.pieces_g:
        film.lasts(_ON_S, bench_scale=mass_g, bath=day.bath_c)
        film.lasts(_OFF_S, bench_scale=0.0, bath=day.bath_c)
    film.act("stage", stage="cool")
    film.lasts(500.0, core=towards(38.0, day.cooled_to_c - 0.2, 90.0), bath=day.bath_c)
    film.act("stage", stage="dip")
    film.lasts(5.0, bench_scale=0.0, bath=day.bath_c)
    for bare_g, coat_g in zip(day.pieces_g, day.coats_g, strict=True):
        for mass_g in (bare_g, bare_g + coat_g):
            film.lasts(_ON_S, bench_scale=mass_g, bath=day.bath_c)
            film.lasts(_DIP_S, bench_scale=0.0, bath=day.bath_c)
    film.act("stage", stage="bath")
    starts = 5.0 * np.arange(1, day.dwells_s.size + 1)
    moments = [(s, "piece_in", k) for k, s in enumerate(starts, 1)]
    moments += [
        (s + d, "piece_out", k)
        for k, (s, d) in enumerate(zip(starts, day.dwells_s, strict=True), 1)
    ]
    begun_s = film.now_s
    for at_s, kind, piece in sorted(moments):
        film.lasts(max(0.0, begun_s + at_s - film.now_s), bath=day.bath_c)
        film.act(kind, piece=piece)
    film.lasts(5.0, bath=day.bath_c)


def batch(seed: int, cause: str = "") -> tuple[Portrait, str]:
    """Return the portrait of one batch as the engine judges it, and the cause to be named.

    Parameters
    ----------
    seed : int
        Of all that is drawn.
    cause : str
        A key of `WRONGS` or `BY_PIECE`; empty for a good batch.
    """
    day, facts = played(seed, cause)
    named = BY_PIECE[cause][1] if cause in BY_PIECE else cause
    defects, of_pieces = came_out(day, np.random.default_rng([seed, 4712]))
    found = portrait(facts)
    of_all = [d for one in of_pieces.values() for d in one]
    defects = list(dict.fromkeys([*defects, *of_all]))
    outcome = "rejected" if defects else "accepted"
    said = {n: tuple(d) for n, d in of_pieces.items()} if cause in BY_PIECE else {}
    return replace(found, outcome=outcome, defects=tuple(defects), piece_defects=said), named


@cache
def played(seed: int, cause: str) -> tuple[Day, RunFacts]:
    """Return how a batch of a seed was cooked, and what the engine found; see `batch`."""
    rng = np.random.default_rng([seed, 4711])
    day = good_day(rng)
    if cause:
        day = (BY_PIECE[cause][0] if cause in BY_PIECE else WRONGS[cause])(day, rng)
    return day, _judged(filmed(day, rng), f"{cause or 'good'} {seed}")


def _judged(film: Film, run_id: str) -> RunFacts:
    bench_ = bench(second_core=film.day.second_core is not None)
    correctors = {c.id: Corrector(c, DAY) for c in bench_.channel}
    traces: dict[str, Trace] = {}
    for role, pieces in film.shown.items():
        t_s, sent = (np.concatenate(part) for part in zip(*pieces, strict=True))
        channel = next(c for c in bench_.channel if c.id == role)
        value, u = correctors[role].values(sent, None, channel.unit)
        t_ns = np.round(t_s * 1e9).astype(np.int64)
        flags = np.zeros(t_ns.size, dtype=np.int32)
        traces[role] = Trace(t_ns=t_ns, value=value, u=np.broadcast_to(u, value.shape), flags=flags)
    pipeline = Pipeline(SHEET, bench_, correctors, FATS, hold_back_ns=0)
    pipeline.offer([*film.events, *_readings(traces)])
    results = pipeline.finish(round(film.now_s * 1e9))[1]

    def read(channel: str, from_ns: int, to_ns: int) -> Trace:
        trace = traces[channel]
        low, high = np.searchsorted(trace.t_ns, (from_ns, to_ns + 1))
        return Trace(*(part[low:high] for part in trace))

    return RunFacts(
        run_id=run_id, sheet=SHEET, bench=bench_, results=results, outcome=None, defects=(),
        read=read, fats=FATS,
    )  # fmt: skip


def _readings(traces: dict[str, Trace]) -> Sequence[Reading]:
    found = [
        Reading(role, t_ns, value, u, 0)
        for role, trace in traces.items()
        for t_ns, value, u in zip(
            trace.t_ns.tolist(), trace.value.tolist(), trace.u.tolist(), strict=True
        )
    ]
    return sorted(found, key=lambda r: r.t_ns)
