"""The two phases of an emulsion as sheet, bench and scale know them: masses, fat, air, what they
mix to.

Pure; used by the watchers of warming and combining. The heat balance is logger.batch.meeting's.
"""

from __future__ import annotations

import math

from logger.batch import meeting
from logger.batch.facts import Known
from logger.batch.meeting import Meeting, Warm
from logger.model.bench import Place
from logger.science.fats.fats import Fat
from logger.science.fats.mixing import Mixture

DEFAULT_ROOM_C, U_DEFAULT_ROOM_K = 21.0, 3.0
U_PLACE_ROOM_K, U_PROBE_ROOM_K = 1.5, 0.7


def main_fat(context: Known) -> tuple[Fat | None, str]:
    """Return the fat that counts, the heaviest that is named, or None and why not."""
    named = [i for i in context.sheet.of_phase("fat") if i.fat is not None]
    if not named:
        return None, "the sheet names no fat: add fat = ... to the ingredient"
    main = max(named, key=lambda i: i.mass_g)
    fat = context.fats.get(main.fat or "")
    if fat is None:
        return None, f"the fat {main.fat!r} is not in the fats file: add it or name another"
    return fat, ""


def phase_g(context: Known, phase: str) -> float:
    """Return the mass of a phase [g]: as weighed in where known, else as on the sheet."""
    weighed = context.batch.weighed_g
    return sum(weighed.get(i.name, i.mass_g) for i in context.sheet.of_phase(phase))


def room_c(context: Known) -> tuple[float, float, str]:
    """Return the air temperature [degC], its standard uncertainty [K] and where it comes from."""
    channel = context.channel_id("room")
    last = context.batch.last.get(channel) if channel is not None else None
    if last is not None and last.value is not None:
        return last.value, math.hypot(last.u, U_PROBE_ROOM_K), "room probe"
    return place_c(context.bench.place)


def place_c(place: Place | None) -> tuple[float, float, str]:
    """Return the air temperature [degC] where no probe measures it, as `room_c` does."""
    if place is not None and place.room_c is not None:
        return place.room_c, U_PLACE_ROOM_K, "bench file"
    return DEFAULT_ROOM_C, U_DEFAULT_ROOM_K, "assumed 21 °C: no room probe"


def meeting_of(context: Known, fat: Fat | None) -> Meeting:
    """Return what meets when the phases are combined now."""
    air_c, u_air_k, _ = room_c(context)
    return Meeting(
        sheet=context.sheet,
        fat=fat,
        fat_g=phase_g(context, "fat"),
        water_g=phase_g(context, "water"),
        air_c=air_c,
        u_air_k=u_air_k,
    )


def mixture(
    context: Known, fat: Fat | None, fat_now: Warm, water_now: Warm, correlation: float
) -> Mixture | None:
    """Return what combining now would give, or None where it can't be told.

    Parameters
    ----------
    context : Known
        Where sheet, bench and fats are looked up.
    fat : Fat or None
        The fat of the fat phase; None takes a generic one.
    fat_now, water_now : Warm
        Both phases right before.
    correlation : float
        Correlation of the errors of the temperatures [1], 0 to 1.
    """
    return meeting.mixture(meeting_of(context, fat), fat_now, water_now, correlation)


def needed_water_c(
    context: Known, fat: Fat | None, fat_now: Warm, water_now: Warm, wanted_c: float
) -> float | None:
    """Return what temperature of the water [degC] would bring the mixture to ``wanted_c``.

    Parameters
    ----------
    context : Known
        Where sheet, bench and fats are looked up.
    fat : Fat or None
        The fat of the fat phase; None takes a generic one.
    fat_now, water_now : Warm
        Both phases right before.
    wanted_c : float
        Temperature of the mixture to reach [degC].
    """
    return meeting.needed_water_c(meeting_of(context, fat), fat_now, water_now, wanted_c)


def counts_a_vessel(context: Known) -> bool:
    """Return whether the sheet describes the vessel in which the phases meet."""
    return meeting.counts_a_vessel(context.sheet)
