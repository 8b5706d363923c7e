"""A whole batch as its instruments read it, as fast as it can be worked out; no ports, no clock.

Steps the physics once through the script, then reads probes and scales off it with their lag,
noise and rounding. Pure and seeded: the same arguments give the same arrays. The bench over
pseudo-terminals plays such a run; tests and tables score the engine against its truth.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from logger.model.reading import Reading
from logger.virtual.batch.acts import Script, Word
from logger.virtual.batch.judge import truth_of
from logger.virtual.bodies.physics import PROBES, STEP_S, World
from logger.virtual.readings.faults import Fault, faults_of, lost_samples, spoil_values
from logger.virtual.readings.scale_readings import scale_trace
from logger.virtual.readings.traces import (
    OVEN,
    PROBE_CHANNELS,
    PROBE_OFFSET_K,
    WIRING,
    Array,
    Trace,
    Wiring,
    sample_times,
)

PROBE_STEP_K = {"core": 0.01, "room": 0.01}
PROBE_NOISE_K = {"core": 0.03, "room": 0.03}
_TAIL_S = 12.0
"""The instruments go on for a while after the batch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedRun:
    """A batch as read and as it was.

    Attributes
    ----------
    channels : dict of str to Trace
        Every channel as its instrument sends it, what faults of the line swallow left out.
    events : list of (t_s, kind, data)
        What the operator says, in time order, after the start of the run (which begins the first
        stage) up to its end.
    truth : dict
        What really happened; see ``judge.truth_of``. Adds ``faults`` and ``end_s``.
    script : Script
        What was acted out.
    """

    seed: int
    short: bool
    faults: tuple[Fault, ...]
    channels: dict[str, Trace]
    full: dict[str, Trace]
    """The same before faults of the line: what the bytes are made of."""
    events: list[Word]
    truth: dict[str, Any]
    script: Script
    probe_c: dict[str, Array]
    """True temperature at each probe's tip, lag included, once a second [degC]."""

    def readings(self, u: float = float("nan")) -> Iterator[Reading]:
        """Yield all samples in time order as corrected readings would be; `u` for all [unit].

        The known offset of each probe is taken off, as the bench file does.
        """
        parts = [
            (trace.t_s, np.full(len(trace.t_s), number))
            for number, trace in enumerate(self.channels.values())
        ]
        times = np.concatenate([t for t, _ in parts])
        owners = np.concatenate([o for _, o in parts])
        places = np.concatenate([np.arange(len(t)) for t, _ in parts])
        order = np.argsort(times, kind="stable")
        traces = list(self.channels.values())
        for number, place, t_s in zip(
            owners[order].tolist(), places[order].tolist(), times[order].tolist(), strict=True
        ):
            trace = traces[number]
            value = float(trace.value[place]) - PROBE_OFFSET_K.get(trace.channel, 0.0)
            missing = value != value
            yield Reading(
                trace.channel,
                round(t_s * 1e9),
                None if missing else value,
                u,
                int(trace.flags[place]),
            )


def simulate(
    seed: int,
    causes: Iterable[str] = (),
    faults: Iterable[str | Fault] = (),
    *,
    short: bool = False,
    rate_hz: float | None = None,
    oven: bool = False,
) -> SimulatedRun:
    """Work out a batch.

    Parameters
    ----------
    seed : int
        The same seed gives the same run.
    causes : iterable of str
        Root causes, keys of ``causes.CAUSES``.
    faults : iterable of str or Fault
        Faults, as in ``faults.parse_fault``.
    short : bool
        The short batch of about 12 minutes instead of the full one of 60 to 75.
    rate_hz : float or None
        Highest sample rate [1/s]; None leaves each instrument its own.
    oven : bool
        Add the optional Modbus reader.

    Returns
    -------
    SimulatedRun

    Raises
    ------
    InputError
        If a cause or a fault is unknown.
    """
    known = faults_of(faults)
    world = World(seed, tuple(causes), short=short)
    end_s = world.script.end_s + _TAIL_S
    probe_c, evaporated_g, dried_g, grid_s = _act_out(world, end_s)
    full: dict[str, Trace] = {}
    wirings = (*WIRING, OVEN) if oven else WIRING
    for number, wiring in enumerate(wirings):
        rng = np.random.default_rng([seed, 5, number])
        times_s = sample_times(wiring, end_s, rate_hz)
        for channel in wiring.channels:
            if channel in PROBE_CHANNELS:
                full[channel] = _probe_trace(channel, times_s, grid_s, probe_c, rng)
            else:
                full[channel] = scale_trace(
                    channel, times_s, world, (grid_s, evaporated_g, dried_g), rng
                )
    if world.batch.probes_swapped:
        _exchange_probes(full)
    spoil_values(full, known, float(probe_c["cold_junction"].mean()))
    channels = {
        channel: lost_samples(full[channel], wiring, known)
        for wiring in wirings
        for channel in wiring.channels
    }
    truth = truth_of(world)
    truth["faults"] = [
        {"name": f.name, "at_s": f.at_s, "for_s": f.for_s, "target": f.target} for f in known
    ]
    truth["end_s"] = world.script.end_s
    outcome = {"outcome": truth["outcome"], "defects": truth["defects"]}
    *words, run_end = world.script.words
    events = [*words, (world.script.end_s - 0.5, "outcome", outcome), run_end]
    return SimulatedRun(
        seed=seed,
        short=short,
        faults=known,
        channels=channels,
        full=full,
        events=events,
        truth=truth,
        script=world.script,
        probe_c=probe_c,
    )


def _act_out(world: World, end_s: float) -> tuple[dict[str, Array], Array, Array, Array]:
    """Step through the batch; probe temperatures, evaporated and dried mass, on a 1 s grid."""
    count = int(np.ceil(end_s / STEP_S)) + 2
    temps = np.empty((count, len(PROBES)))
    evaporated_g, dried_g = np.empty(count), np.empty(count)
    for row in range(count):
        temps[row] = list(world.probe_c.values())
        evaporated_g[row], dried_g[row] = world.evaporated_g, world.dried_g
        world.step(STEP_S)
    grid_s = STEP_S * np.arange(count, dtype=float)
    return {n: temps[:, i] for i, n in enumerate(PROBES)}, evaporated_g, dried_g, grid_s


def _probe_trace(
    channel: str,
    times_s: Array,
    grid_s: Array,
    probe_c: dict[str, Array],
    rng: np.random.Generator,
) -> Trace:
    source = "room" if channel == "oven" else channel
    true_c = np.interp(times_s, grid_s, probe_c[source]) + PROBE_OFFSET_K.get(channel, 0.0)
    noisy_c = true_c + PROBE_NOISE_K.get(channel, 0.04) * rng.standard_normal(len(times_s))
    step_k = PROBE_STEP_K.get(channel, 0.1)
    return Trace(
        channel=channel,
        t_s=times_s,
        value=np.round(np.round(noisy_c / step_k) * step_k, 6),
        flags=np.zeros(len(times_s), dtype=np.uint16),
    )


def _exchange_probes(full: dict[str, Trace]) -> None:
    """Let the fat's probe stand in the water and the other way round, from the start."""
    fat, water = full["fat"], full["water"]
    apart_k = PROBE_OFFSET_K["fat"] - PROBE_OFFSET_K["water"]
    fat.value, water.value = (
        np.round(water.value + apart_k, 6),
        np.round(fat.value - apart_k, 6),
    )


def wirings_of(run: SimulatedRun) -> tuple[Wiring, ...]:
    """Return the wiring of the instruments that a run has."""
    return (*WIRING, OVEN) if "oven" in run.full else WIRING
