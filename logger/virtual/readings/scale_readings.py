"""What the three scales of a finished batch read: loads of the script joined with the physics.

Pure. Evaporation lightens the bowl, drying lightens the rack; the bath is ``bath_reading``'s.
"""

import numpy as np

from logger.model.reading import Flag
from logger.virtual.bodies.loads import Scale, Weighings, weigh
from logger.virtual.bodies.physics import World
from logger.virtual.readings.bath_reading import bath_readings
from logger.virtual.readings.traces import Array, Trace

BENCH_SCALE = Scale(step_g=0.01, noise_g=0.006)
BOWL_SCALE = Scale(step_g=0.1, noise_g=0.05)


def scale_trace(
    channel: str,
    times_s: Array,
    world: World,
    losses: tuple[Array, Array, Array],
    rng: np.random.Generator,
) -> Trace:
    """Read a scale of a finished batch.

    Parameters
    ----------
    channel : str
        Role of the scale.
    times_s : ndarray, shape (n,)
        Sample times [s].
    world : World
        Stepped to its end.
    losses : tuple of ndarray
        Times [s], evaporated water [g] and dried-off water [g], of one length.
    rng : numpy.random.Generator
        For noise and hands.
    """
    grid_s, evaporated_g, dried_g = losses
    script = world.script
    if channel == "bath_scale":
        read = bath_readings(world, times_s, rng)
    elif channel == "bench_scale":
        load = script.bench
        if script.drying_span_s is not None:
            _rack(world, grid_s, dried_g)
        read = weigh(BENCH_SCALE, load, times_s, rng)
    else:
        on_s, off_s = script.bowl_span_s
        load = script.bowl
        load.profiles.append((np.maximum(grid_s, on_s), -evaporated_g, off_s))
        if np.isfinite(off_s):
            _take_bowl_off(world, on_s, off_s)
        read = weigh(BOWL_SCALE, load, times_s, rng)
    return _as_trace(channel, times_s, read)


def _take_bowl_off(world: World, on_s: float, off_s: float) -> None:
    """End all that lies on the bowl scale when the bowl is lifted."""
    load = world.script.bowl
    load.profiles = [(times_s, mass_g, off_s) for times_s, mass_g, _ in load.profiles]
    load.put(off_s, -sum(delta for _, delta, _ in load.steps), 0.3)


def _rack(world: World, grid_s: Array, dried_g: Array) -> None:
    """Lay the blotted pieces on the rack and let them lose what dries."""
    span = world.script.drying_span_s
    if span is None:
        return
    bench = world.script.bench
    pieces = world.facts.pieces
    lain_g = 0.0
    for place, number in enumerate(sorted(pieces)):
        piece = pieces[number]
        film_g = 0.012 * world.surface_cm2(number)
        mass_g = piece["mass_out_g"] - piece["drag_g"] + film_g
        bench.put(span[0] + 1.5 * place, mass_g, 0.4)
        lain_g += mass_g
    bench.profiles.append((np.maximum(grid_s, span[0]), -dried_g, span[1]))
    bench.put(span[1], -lain_g, 0.4)


def _as_trace(channel: str, times_s: Array, read: Weighings) -> Trace:
    flags = np.where(read.stable, np.uint16(Flag.STABLE), np.uint16(Flag.UNSTABLE))
    flags = flags | np.where(read.net, np.uint16(Flag.NET), np.uint16(0))
    return Trace(
        channel=channel,
        t_s=times_s,
        value=np.round(read.value_g, 6),
        flags=flags.astype(np.uint16),
    )
