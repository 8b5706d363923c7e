"""Where the temperature will land when the phases meet, and what the water must have for it.

Pure; sheet, bench and fats in, predictions and troubles out. Used by logger.review.plan.
"""

from collections.abc import Mapping

from logger.model.bench import Bench
from logger.model.errors import OutOfRangeError
from logger.model.sheet import EmulsifyStage, HeatStage, Sheet, Vessel
from logger.model.written import Band
from logger.review.planned import Notebook
from logger.science.emulsion import packing_notice, volume_fraction
from logger.science.fats import Fat
from logger.science.mixing import VESSEL_J_G_K, Part, mixing_temp_c, needed_temp_c
from logger.science.water import density_kg_m3
from logger.watch.amounts import fat_percent, phase_g

HEAT = "heat balance of what is mixed; specific heats beside each fat and vessel"
WATER_J_G_K = 4.18
"""IAPWS-95, 20 to 60 degC."""
SOLIDS_J_G_K = 1.5
"""Dry matter of foods: from memory."""
ROOM_C = 21.0
FAT_CAUTION = (
    "Hot fat burns and spits when water falls into it: no wet tools, keep the handle turned in, "
    "never pour water on burning fat."
)


def plan_heat(book: Notebook, sheet: Sheet, bench: Bench | None, fats: Mapping[str, Fat]) -> None:
    """Predict what combining gives and what will not work about it."""
    heat = next((s for s in sheet.stage if isinstance(s, HeatStage)), None)
    if heat is None:
        return
    book.cautions.append(FAT_CAUTION)
    fat = _known_fat(book, sheet, fats)
    _melting(book, heat, fat)
    if heat.fat_c is None or heat.water_c is None:
        book.untold.append(
            "mixing temperature: the heat stage names no band for fat or water; add both"
        )
        return
    if phase_g(sheet, "fat") <= 0.0 or phase_g(sheet, "water") <= 0.0:
        book.untold.append("mixing temperature: the sheet has no fat or no water phase to weigh")
        return
    room_c = bench.place.room_c if bench is not None else None
    _mixing(book, sheet, heat, fat, ROOM_C if room_c is None else room_c)
    _crowding(book, sheet, fat, heat)


def middle(band: Band) -> float:
    """Return the middle of a band, or its only end."""
    ends = [end for end in (band.low, band.high) if end is not None]
    return sum(ends) / len(ends)


def water_phase_cp(sheet: Sheet) -> float:
    """Return the specific heat of the water phase [J/(g K)]: water and dry matter by mass."""
    parts = sheet.of_phase("water")
    wet = sum(i.mass_g for i in parts if i.substance == "water")
    total = sum(i.mass_g for i in parts)
    if wet <= 0.0:  # nothing says what is water: a thin phase is nearly all of it
        return WATER_J_G_K
    return (wet * WATER_J_G_K + (total - wet) * SOLIDS_J_G_K) / total


def parts_of(
    sheet: Sheet, fat: Fat | None, fat_c: float, water_c: float, room_c: float
) -> list[Part]:
    """Return what takes part when the phases meet; the vessel's heat goes with what it holds."""
    water_g = phase_g(sheet, "water")
    pours = next((s.pour for s in sheet.stage if isinstance(s, EmulsifyStage)), "fat")
    receives = "water" if pours == "fat" else "fat"
    water_j_k, fat_g = water_g * water_phase_cp(sheet), phase_g(sheet, "fat")
    fat_j_k = fat_g * (fat.cp_liquid_j_g_k.value if fat is not None else 2.05)
    bowl: list[Part] = []
    for vessel in sheet.vessel:
        capacity = vessel_j_k(vessel)
        if capacity is None:
            continue
        if vessel.holds == receives == "water":
            water_j_k += capacity
        elif vessel.holds == receives == "fat":
            fat_j_k += capacity
        elif vessel.holds == "bowl":
            at_c = room_c if vessel.temp_c is None else vessel.temp_c
            bowl.append(Part(name=vessel.id, mass_g=1.0, temp_c=at_c, cp_j_g_k=capacity))
    return [
        Part(name="fat", mass_g=fat_g, temp_c=fat_c, cp_j_g_k=fat_j_k / fat_g, fat=fat),
        Part(name="water phase", mass_g=water_g, temp_c=water_c, cp_j_g_k=water_j_k / water_g),
        *bowl,
    ]


def vessel_j_k(vessel: Vessel) -> float | None:
    """Return the heat capacity of a vessel [J/K], or None where the sheet does not say enough."""
    if vessel.heat_capacity_j_k is not None:
        return vessel.heat_capacity_j_k
    if vessel.mass_g is None or vessel.material is None:
        return None
    return vessel.mass_g * VESSEL_J_G_K[vessel.material]


def _known_fat(book: Notebook, sheet: Sheet, fats: Mapping[str, Fat]) -> Fat | None:
    named = [i for i in sheet.of_phase("fat") if i.fat is not None]
    if not named:
        book.untold.append("melting and setting limits: no ingredient names its fat (fat = ...)")
        return None
    main = max(named, key=lambda i: i.mass_g)
    fat = fats.get(main.fat or "")
    if fat is None:
        book.trouble(
            "will not work",
            f"the sheet's fat {main.fat!r} is not in the fats file",
            f"use one of {', '.join(sorted(fats))}, or add it to fats.toml",
            "sheet",
        )
    if len(named) > 1:
        book.trouble(
            "mind",
            f"several fats are mixed; the limits shown are those of {main.name}",
            "measure the blend's own setting curve",
            "a blend of fats melts and sets unlike its parts: common practice, no source",
        )
    return fat


def _melting(book: Notebook, heat: HeatStage, fat: Fat | None) -> None:
    if fat is None or heat.fat_c is None:
        return
    melted = fat.all_melted_above_c
    book.predict(
        "fat_all_melted_above_c", "all melted above", melted.value, "degC",
        f"{fat.name} is wholly melted above {melted.value:g} °C", melted.source,
        low=melted.value - 2 * melted.u, high=melted.value + 2 * melted.u, stage=heat.id,
    )  # fmt: skip
    low = heat.fat_c.low
    if low is None or low < melted.value + 2 * melted.u:
        floor = "no low end" if low is None else f"a low end of {low:g} °C"
        book.trouble(
            "will not work" if low is None or low < melted.value else "mind",
            f"the fat band has {floor}, but {fat.name} is wholly melted only above "
            f"{melted.value:g} ± {2 * melted.u:g} °C",
            f"let the fat band begin at {melted.value + 2 * melted.u:.0f} °C or more",
            melted.source,
            stage=heat.id,
        )


def _mixing(book: Notebook, sheet: Sheet, heat: HeatStage, fat: Fat | None, room_c: float) -> None:
    fat_band, water_band = heat.fat_c, heat.water_c
    if fat_band is None or water_band is None:
        return
    try:
        likely = mixing_temp_c(parts_of(sheet, fat, middle(fat_band), middle(water_band), room_c))
        cold, hot = (
            mixing_temp_c(parts_of(sheet, fat, fat_end, water_end, room_c))
            for fat_end, water_end in (
                (_end(fat_band, "low"), _end(water_band, "low")),
                (_end(fat_band, "high"), _end(water_band, "high")),
            )
        )
    except OutOfRangeError as cause:
        book.untold.append(f"mixing temperature: {cause}")
        return
    vessels = [v for v in sheet.vessel if vessel_j_k(v) is not None and v.holds != "bath"]
    bare = "" if vessels else ", without a bowl: the sheet names no vessel, and a cold one costs K"
    book.predict(
        "mixing_temp_c", "mixing temperature", likely, "degC",
        f"fat at {middle(fat_band):g} °C and water phase at {middle(water_band):g} °C give "
        f"{likely:.1f} °C; over the whole bands {cold:.1f} to {hot:.1f} °C{bare}",
        HEAT, low=cold, high=hot, stage=heat.id,
    )  # fmt: skip
    if heat.mix_c is not None:
        _wanted(book, sheet, heat, fat, heat.mix_c, (cold, hot), room_c)
    if fat is not None:
        _setting(book, fat, cold, likely, heat.id)


def _end(band: Band, end: str) -> float:
    value = band.low if end == "low" else band.high
    return middle(band) if value is None else value


def _wanted(
    book: Notebook,
    sheet: Sheet,
    heat: HeatStage,
    fat: Fat | None,
    wanted: Band,
    reach: tuple[float, float],
    room_c: float,
) -> None:
    if heat.fat_c is None or heat.water_c is None:
        return
    cold, hot = reach
    target_c = middle(wanted)
    parts = parts_of(sheet, fat, middle(heat.fat_c), middle(heat.water_c), room_c)
    try:
        needed = needed_temp_c(parts, "water phase", target_c)
    except OutOfRangeError:
        book.trouble(
            "will not work",
            f"no water between 0 and 100 °C brings the mixture to {target_c:g} °C",
            "change the wanted mixing temperature, the fat's temperature or the amounts",
            HEAT,
            stage=heat.id,
        )
        return
    book.predict(
        "needed_water_temp_c", "needed water temperature", needed, "degC",
        f"for {target_c:g} °C with the fat at {middle(heat.fat_c):g} °C the water phase needs "
        f"{needed:.1f} °C", HEAT, stage=heat.id,
    )  # fmt: skip
    low = -1e9 if wanted.low is None else wanted.low
    high = 1e9 if wanted.high is None else wanted.high
    if hot < low or cold > high:
        book.trouble(
            "will not work",
            f"the bands of fat and water give {cold:.1f} to {hot:.1f} °C, never the wanted mix",
            f"bring the water phase to {needed:.0f} °C",
            HEAT,
            stage=heat.id,
        )
    elif cold < low or hot > high:
        book.trouble(
            "mind",
            f"the ends of the bands give {cold:.1f} to {hot:.1f} °C, wider than the wanted mix",
            f"aim for the water phase at {needed:.0f} °C",
            HEAT,
            stage=heat.id,
        )


def _setting(book: Notebook, fat: Fat, cold: float, likely: float, stage: str) -> None:
    sets = fat.sets_below_c
    book.predict(
        "room_before_setting_k", "room above the setting limit", likely - sets.value, "K",
        f"the mixture lies {likely - sets.value:.1f} K above {sets.value:g} °C, below which "
        f"{fat.name} begins to set", sets.source, stage=stage,
    )  # fmt: skip
    if cold < sets.value + 2 * sets.u:
        book.trouble(
            "will not work" if likely < sets.value else "mind",
            f"at the cold ends of the bands the mixture has {cold:.1f} °C; {fat.name} begins to "
            f"set below {sets.value:g} ± {2 * sets.u:g} °C",
            "raise the low ends of the fat or the water band",
            sets.source,
            stage=stage,
        )


def _crowding(book: Notebook, sheet: Sheet, fat: Fat | None, heat: HeatStage) -> None:
    percent = fat_percent(sheet)
    if percent is None:
        return
    at_c = middle(heat.fat_c) if heat.fat_c is not None else 50.0
    fat_kg_m3 = fat.density_at(at_c) if fat is not None else 905.0
    notice = packing_notice(volume_fraction(percent / 100.0, fat_kg_m3, density_kg_m3(at_c)))
    if notice:
        book.trouble(
            "note", notice, "mind the stirring and the emulsifier",
            "Berryman (1983), Physical Review A 27, 1053; Hales (2005), Annals of Mathematics 162",
        )  # fmt: skip
