"""The bath scale of a batch: pieces lowered, let go, lifted and dripped off, read by a scale.

Embeds ``bath_on_scale.BathOnScale`` and steps it through the script while hands are at the bath; in
between nothing but evaporation moves it. Pure and seeded. Used by ``simulate``.
"""

import numpy as np

from logger.virtual.batch.ware import TRAY_G
from logger.virtual.bodies.bath_on_scale import BathOnScale, DippedPiece
from logger.virtual.bodies.loads import Weighings, stable_marks
from logger.virtual.bodies.physics import World
from logger.virtual.readings.traces import Array

STEP_G = 0.1
NOISE_G = 0.08
EVAPORATION_G_S = 0.1 / 60.0
LIFT_S = 0.7
_HANDS_AWAY_S = 12.0
_LONGEST_S = 0.1

Act = tuple[float, str, int]


def bath_readings(world: World, times_s: Array, rng: np.random.Generator) -> Weighings:
    """Read the bath scale of a finished batch.

    Parameters
    ----------
    world : World
        Stepped to its end. The mass with which each piece leaves is written back to its facts,
        together with ``bath_left_g``.
    times_s : ndarray, shape (n,)
        Sample times [s].
    rng : numpy.random.Generator
        For handling, touches and noise.
    """
    bath = BathOnScale(
        rng,
        bath_g=world.batch.bath_g,
        vessel_g=TRAY_G,
        step_g=1e-3,  # noise and display steps come after, for all samples at once
        noise_g=0.0,
        evaporation_g_s=EVAPORATION_G_S,
    )
    pieces = _pieces(world, rng)
    acts = _acts(world, pieces, rng)
    from_s = acts[0][0] - 2.0
    until_s = acts[-1][0] + LIFT_S + _HANDS_AWAY_S
    first, last = np.searchsorted(times_s, (from_s, until_s))
    stands = np.searchsorted(times_s, world.script.bath_from_s)
    shown = np.zeros(len(times_s))
    still = slice(int(stands), int(first))
    shown[still] = (
        bath.vessel_g
        + bath.liquid_g
        - EVAPORATION_G_S * (times_s[still] - world.script.bath_from_s)
    )
    bath.liquid_g -= EVAPORATION_G_S * (from_s - world.script.bath_from_s)
    shown[first:last] = _play(world, bath, pieces, acts, from_s, times_s[first:last])
    after = slice(int(last), None)
    shown[after] = bath.vessel_g + bath.liquid_g - EVAPORATION_G_S * (times_s[after] - until_s)
    world.facts.bath_left_g = bath.liquid_g
    period_s = float(times_s[1] - times_s[0]) if len(times_s) > 1 else 0.1
    noisy = shown + NOISE_G * rng.standard_normal(len(times_s))
    return Weighings(
        value_g=np.round(noisy / STEP_G) * STEP_G,
        stable=stable_marks(noisy, period_s, max(2.0 * STEP_G, 5.0 * NOISE_G)),
        net=np.zeros(len(times_s), dtype=bool),
    )


def _pieces(world: World, rng: np.random.Generator) -> dict[int, DippedPiece]:
    facts = world.facts.pieces
    return {
        number: DippedPiece(
            mass_g=facts[number]["mass_in_g"],
            density_kg_m3=float(rng.normal(1036.0, 3.0)),
            film_g=facts[number]["drag_g"] + float(rng.uniform(2.0, 5.0)),
            drag_g=facts[number]["drag_g"],
            drip_s=float(rng.uniform(0.6, 1.0)),
            sink_s=float(rng.uniform(0.5, 1.2)),
            held_s=float(rng.uniform(0.2, 0.9)),
        )
        for number in sorted(facts)
    }


def _acts(world: World, pieces: dict[int, DippedPiece], rng: np.random.Generator) -> list[Act]:
    """Dips and lifts such that each piece is half under at the script's times, and some touches."""
    acts: list[Act] = []
    for number, piece in pieces.items():
        fact = world.facts.pieces[number]
        acts.append((fact["in_s"] - 0.5 * piece.sink_s, "dip", number))
        acts.append((fact["out_s"] - 0.5 * LIFT_S, "lift", number))
    begin_s, end_s = min(a[0] for a in acts), max(a[0] for a in acts)
    touched_s = rng.uniform(begin_s + 3.0, end_s, int(rng.integers(0, 4)))
    acts += [(float(t_s), "touch", 0) for t_s in touched_s]
    if rng.random() < 0.4:
        acts.append((float(rng.uniform(begin_s + 3.0, end_s - 5.0)), "stir", 0))
    return sorted(acts)


def _play(
    world: World,
    bath: BathOnScale,
    pieces: dict[int, DippedPiece],
    acts: list[Act],
    from_s: float,
    times_s: Array,
) -> Array:
    """Step through the acts; what the scale would show without noise, at the sample times."""
    waiting = list(acts)
    now_s = from_s
    shown = np.empty(len(times_s))
    for place, t_s in enumerate(times_s.tolist()):
        while now_s < t_s - 1e-9:
            until_s = min(t_s, waiting[0][0] if waiting else t_s)
            part_s = min(_LONGEST_S, until_s - now_s)
            if part_s > 1e-9:
                bath.step(part_s)
                now_s += part_s
            while waiting and waiting[0][0] <= now_s + 1e-9:
                _do(world, bath, pieces, waiting.pop(0))
        shown[place] = bath.reading_g()
    for number, piece in pieces.items():
        world.facts.pieces[number]["mass_out_g"] = piece.mass_g + piece.wet_g
    return shown


def _do(world: World, bath: BathOnScale, pieces: dict[int, DippedPiece], act: Act) -> None:
    _, what, number = act
    if what == "dip":
        bath.dip(number, pieces[number])
    elif what == "lift":
        fact, piece = world.facts.pieces[number], pieces[number]
        # What the coat gave off or shed while it lay in the bath has stayed there.
        left_g = fact["mass_out_g"] - fact["drag_g"]
        bath.liquid_g += piece.mass_g - left_g
        piece.mass_g = left_g
        bath.lift(number, lift_s=LIFT_S)
    elif what == "touch":
        force_g = float(bath.rng.choice([-1.0, 1.0]) * bath.rng.uniform(4.0, 70.0))
        bath.touch(force_g, float(bath.rng.uniform(0.4, 2.5)))
    else:
        bath.stir(float(bath.rng.uniform(1.0, 3.0)), float(bath.rng.uniform(4.0, 9.0)))
