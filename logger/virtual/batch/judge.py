"""What came out of a batch, from what physically happened to it.

Pure: facts of the world to an outcome and defects, as an honest cook would report them. The limits
are those of the invented product (common practice, no source). Causes are not looked at.
"""

import math
from typing import Any

from logger.virtual.batch.acts import PouredFat
from logger.virtual.bodies.physics import World
from logger.virtual.bodies.roll import surface_cm2

_MELTS_C = {"cocoa_butter": 34.0, "coconut_oil": 25.0}


def defects_of(world: World) -> list[str]:
    """Return the defects that a finished batch shows, in the words of the sheet."""
    facts, batch, script = world.facts, world.batch, world.script
    found: list[str] = []
    pour = script.pour
    if pour is not None and pour.mass_g[-1] > 0.0:
        rate_g_min = 60.0 * float(pour.mass_g[-1]) / (pour.end_s - pour.start_s)
        apart_k = facts.fat_at_pour_c - facts.water_at_pour_c
        if (
            rate_g_min > 220.0
            or facts.mixed_c < _MELTS_C[batch.fat] + 2.0
            or (apart_k < -1.5 and facts.fat_at_pour_c > 40.0)
        ):
            found.append("broken emulsion")
        if facts.fat_at_pour_c < _MELTS_C["cocoa_butter"] + 7.0:
            found.append("grainy")
        if world.poured_g / (world.poured_g + batch.water_g) > 0.39:
            found.append("greasy")
    if batch.fat != "cocoa_butter":
        found.append("too soft")
    if facts.hydrated < 0.75:
        found.append("leaking")
    if facts.core_after_chill_c > 19.0 and "greasy" not in found:
        found.append("greasy")
    found += _skin(world)
    return found


def _skin(world: World) -> list[str]:
    of_pieces = piece_defects_of(world).values()
    order = ("skin too thin", "skin tough")
    found = [defect for defect in order if any(defect in of_piece for of_piece in of_pieces)]
    coats = [p["coat_mm"] for p in world.facts.pieces.values()]
    if coats and (max(coats) > 2.0 * min(coats) or world.facts.film_left > 0.45):
        found.append("skin burst")
    return found


def piece_defects_of(world: World) -> dict[int, list[str]]:
    """Return the defects of each piece that came out of the bath, by its number."""
    usual_s = 183.0 if world.batch.short else 505.0
    found: dict[int, list[str]] = {}
    pieces = world.facts.pieces
    thinnest_mm = min((p["coat_mm"] for p in pieces.values()), default=0.0)
    for number, piece in sorted(pieces.items()):
        found[number] = []
        if piece["set_fraction"] < 0.93:
            found[number].append("skin too thin")
        if piece["dwell_s"] > 1.5 * usual_s:
            found[number].append("skin tough")
        if piece["coat_mm"] > 2.0 * thinnest_mm:
            found[number].append("skin burst")
    return found


def truth_of(world: World) -> dict[str, Any]:
    """Return the truth of a finished batch: JSON values, times in seconds of the run."""
    facts, batch, script = world.facts, world.batch, world.script
    defects = defects_of(world)
    return {
        "seed": batch.seed,
        "causes": list(batch.causes),
        "outcome": "rejected" if defects else "accepted",
        "defects": defects,
        "piece_defects": {str(n): d for n, d in piece_defects_of(world).items() if d},
        "stages": [
            {"id": s.id, "kind": s.kind, "start_s": s.start_s, "end_s": s.end_s}
            for s in script.stages
        ],
        "pours": [] if script.pour is None else [_of_pour(script.pour)],
        "immersions": [
            {"piece": number, **facts.pieces[number]} for number in sorted(facts.pieces)
        ],
        "settings": list(facts.settings),
        "temperatures": _temperatures(world),
        "melted_s": _known(facts.melted_s),
        "hydrated": facts.hydrated,
        "weighed_g": dict(script.weighed_g),
        "fat": batch.fat,
        "fat_g": batch.fat_g,
        "water_g": batch.water_g,
        "evaporated_g": world.evaporated_g,
        "bath_g": batch.bath_g,
        "bath_left_g": facts.bath_left_g,
        "bath_calcium_mol": world.bath_calcium_mol,
        "bath_mol_m3": world.bath_mol_m3(),
        "coat_calcium_mol": world.coats.calcium_mol(),
        "dried_g": world.dried_g,
        "film_left": facts.film_left,
        "surface_cm2": [surface_cm2(m) for m in batch.piece_g],
        "heat_in_j": facts.heat_in_j,
    }


def _of_pour(pour: PouredFat) -> dict[str, Any]:
    return {
        "channel": "bowl_scale",
        "start_s": pour.start_s,
        "end_s": pour.end_s,
        "most_from_s": pour.time_of(0.01),
        "most_to_s": pour.time_of(0.99),
        "mass_g": float(pour.mass_g[-1]),
        "rate_g_per_min": 60.0 * float(pour.mass_g[-1]) / (pour.end_s - pour.start_s),
    }


def _temperatures(world: World) -> dict[str, float | None]:
    facts = world.facts
    return {
        "fat_at_pour_c": _known(facts.fat_at_pour_c),
        "water_at_pour_c": _known(facts.water_at_pour_c),
        "mixed_c": _known(facts.mixed_c),
        "core_after_chill_c": _known(facts.core_after_chill_c),
        "highest_core_c": _known(facts.highest_core_c),
        "bath_c": _known(world.bath.temp_c),
        "room_c": world.room_c,
    }


def _known(value: float) -> float | None:
    """Return a number that JSON can hold, or None for what this batch never had."""
    return float(value) if math.isfinite(value) else None
