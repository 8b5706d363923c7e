"""Where the temperature will land when the phases meet, and what the water must have for it.

Pure; sheet, bench and fats in, predictions and troubles out. Used by logger.review.plan.plan.
"""

from collections.abc import Mapping

from logger.batch.amounts import Weighed, fat_percent, phase_g
from logger.batch.meeting import Meeting, Warm, loss_j, mixture, needed_water_c, vessel_j_k
from logger.batch.phases import place_c
from logger.model.bench import Bench
from logger.model.kinds.heat import HeatStage
from logger.model.sheet import Sheet
from logger.model.written import Band
from logger.review.plan.planned import Notebook
from logger.science.fats.emulsion import packing_notice, volume_fraction
from logger.science.fats.fats import Fat
from logger.science.heat.water import density_kg_m3
from logger.words.bands import span_text
from logger.words.values import exact_text, percent_text, rounded_text, value_text

HEAT = (
    "heat balance of what is mixed, less what the air takes while pouring; specific heats "
    "as listed for each fat and vessel"
)
FAT_CAUTION = (
    "Hot fat burns and spits when water falls into it: no wet tools, keep the handle turned in, "
    "never pour water on burning fat."
)


_MUCH = 0.1
"""A larger share of the fat phase than this changes when all of it melts and sets."""


def plan_heat(book: Notebook, sheet: Sheet, bench: Bench | None, fats: Mapping[str, Fat]) -> None:
    """Predict what combining gives and what will not work about it.

    Parameters
    ----------
    book : Notebook
        What is predicted is written into it.
    sheet : Sheet
        The plan of the batch.
    bench : Bench or None
        What measures it; None where there is no bench file.
    fats : mapping
        Fats that are known, by key.
    """
    heat = next((s for s in sheet.stage if isinstance(s, HeatStage)), None)
    if heat is None:
        return
    book.cautions.append(FAT_CAUTION)
    fat = _known_fat(book, sheet, fats)
    _melting(book, heat, fat)
    if heat.fat_c is None or heat.water_c is None:
        book.untold.append(
            "mixing temperature: the heat stage has no target for fat or water; add both"
        )
        return
    if phase_g(sheet, "fat") <= 0.0 or phase_g(sheet, "water") <= 0.0:
        book.untold.append("mixing temperature: the sheet has no fat or no water phase to weigh")
        return
    _mixing(book, heat, meeting_on_paper(sheet, bench, fat))
    _crowding(book, sheet, fat, heat)


def middle(band: Band) -> float:
    """Return the middle of a band, or its only end."""
    ends = [end for end in (band.low, band.high) if end is not None]
    return sum(ends) / len(ends)


def meeting_on_paper(
    sheet: Sheet, bench: Bench | None, fat: Fat | None, weighed_g: Weighed | None = None
) -> Meeting:
    """Return what meets as the sheet has it, or as it was weighed; the air by the bench file.

    The same that the prediction while warming starts from.

    Parameters
    ----------
    sheet : Sheet
        The plan of the batch.
    bench : Bench or None
        Whose place says how warm the air is.
    fat : Fat or None
        The fat of the fat phase, if it is known.
    weighed_g : mapping, optional
        What was weighed in [g], by the ingredient's name.
    """
    air_c, u_air_k, _ = place_c(bench.place if bench is not None else None)
    return Meeting(
        sheet=sheet,
        fat=fat,
        fat_g=phase_g(sheet, "fat", weighed_g),
        water_g=phase_g(sheet, "water", weighed_g),
        air_c=air_c,
        u_air_k=u_air_k,
    )


def mixed_c(meeting: Meeting, fat_c: float, water_c: float) -> float | None:
    """Return where two temperatures land when the phases meet [degC]; None if untold.

    Parameters
    ----------
    meeting : Meeting
        What meets.
    fat_c, water_c : float
        Temperatures of the phases right before [degC].
    """
    found = mixture(meeting, Warm(temp_c=fat_c, u_k=0.0), Warm(temp_c=water_c, u_k=0.0))
    return None if found is None else found.temp_c


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
    elif fat.name.casefold() not in main.name.casefold():
        book.trouble(
            "note",
            f"{main.name} counts as {fat.name.lower()}",
            "if it is another fat, change its fat in the text",
            "sheet",
        )
    others = [i for i in sheet.of_phase("fat") if i.fat is None]
    unknown_g, whole_g = sum(i.mass_g for i in others), phase_g(sheet, "fat")
    if unknown_g > _MUCH * whole_g:
        book.trouble(
            "mind",
            f"the limits shown are those of {main.name} alone: "
            f"{', '.join(i.name for i in others)}, {percent_text(unknown_g / whole_g)} of the fat "
            "phase, names no fat",
            "name it in the text (fat = ...), or measure the blend's own setting curve",
            "sheet",
        )
    if len(named) > 1:
        book.trouble(
            "mind",
            f"several fats are mixed; the limits shown are those of {main.name}",
            "measure the blend's own setting curve",
            "a blend of fats melts and sets differently from its parts: common practice, no source",
        )
    return fat


def _melting(book: Notebook, heat: HeatStage, fat: Fat | None) -> None:
    if fat is None or heat.fat_c is None:
        return
    melted = fat.all_melted_above_c
    book.predict(
        "fat_all_melted_above_c",
        "fully melted above",
        melted.value,
        "degC",
        f"{fat.name} is fully melted above {exact_text(melted.value, 'degC')}",
        melted.source,
        low=melted.value - 2 * melted.u,
        high=melted.value + 2 * melted.u,
        stage=heat.id,
    )
    low = heat.fat_c.low
    if low is None or low < melted.value + 2 * melted.u:
        floor = "no low end" if low is None else f"a low end of {exact_text(low, 'degC')}"
        book.trouble(
            "will not work" if low is None or low < melted.value else "mind",
            f"the fat band has {floor}, but {fat.name} is fully melted only above "
            f"{value_text(melted.value, 'degC', 2 * melted.u)}",
            f"let the fat band begin at {rounded_text(melted.value + 2 * melted.u, 'degC')} or "
            "more",
            melted.source,
            stage=heat.id,
        )


def _mixing(book: Notebook, heat: HeatStage, meeting: Meeting) -> None:
    fat_band, water_band = heat.fat_c, heat.water_c
    if fat_band is None or water_band is None:
        return
    likely, cold, hot = (
        mixed_c(meeting, fat_c, water_c)
        for fat_c, water_c in (
            (middle(fat_band), middle(water_band)),
            (_end(fat_band, "low"), _end(water_band, "low")),
            (_end(fat_band, "high"), _end(water_band, "high")),
        )
    )
    if likely is None or cold is None or hot is None:
        book.untold.append(
            "mixing temperature: a temperature of the bands is outside 0 to 150 °C, or the pour "
            "rate is 0"
        )
        return
    vessels = [v for v in meeting.sheet.vessel if vessel_j_k(v) is not None and v.holds != "bath"]
    bare = (
        ""
        if vessels
        else ", without a bowl: the sheet names no vessel, and a cold one lowers the temperature"
    )
    book.predict(
        "mixing_temp_c",
        "mixing temperature",
        likely,
        "degC",
        f"fat at {exact_text(middle(fat_band), 'degC')} and water phase at "
        f"{exact_text(middle(water_band), 'degC')} give "
        f"{value_text(likely, 'degC')}; across both targets "
        f"{span_text(cold, hot, 'degC')}{bare}"
        f"{_lost(meeting, middle(water_band))}",
        HEAT,
        low=cold,
        high=hot,
        stage=heat.id,
    )
    if heat.mix_c is not None:
        _wanted(book, heat, meeting, heat.mix_c, (cold, hot))
    if meeting.fat is not None:
        _setting(book, meeting.fat, cold, likely, heat.id)


def _lost(meeting: Meeting, water_c: float) -> str:
    """Say how much heat goes to the air while pouring, where the sheet has a pour."""
    lost_j, _ = loss_j(meeting, water_c)
    return f"; {lost_j / 1000.0:.1f} kJ go to the air while pouring" if lost_j > 0.0 else ""


def _end(band: Band, end: str) -> float:
    value = band.low if end == "low" else band.high
    return middle(band) if value is None else value


def _wanted(
    book: Notebook, heat: HeatStage, meeting: Meeting, wanted: Band, reach: tuple[float, float]
) -> None:
    if heat.fat_c is None or heat.water_c is None:
        return
    cold, hot = reach
    target_c = middle(wanted)
    fat_now, water_now = (Warm(temp_c=middle(b), u_k=0.0) for b in (heat.fat_c, heat.water_c))
    needed = needed_water_c(meeting, fat_now, water_now, target_c)
    if needed is None:
        book.trouble(
            "will not work",
            f"no water between 0 and 100 °C brings the mixture to {exact_text(target_c, 'degC')}",
            "change the target for the mix, the fat's temperature or the amounts",
            HEAT,
            stage=heat.id,
        )
        return
    book.predict(
        "needed_water_temp_c",
        "needed water temperature",
        needed,
        "degC",
        f"for {exact_text(target_c, 'degC')} with the fat at "
        f"{exact_text(middle(heat.fat_c), 'degC')} the water phase needs "
        f"{value_text(needed, 'degC')}",
        HEAT,
        stage=heat.id,
    )
    low = -1e9 if wanted.low is None else wanted.low
    high = 1e9 if wanted.high is None else wanted.high
    if hot < low or cold > high:
        book.trouble(
            "will not work",
            f"the bands of fat and water give {span_text(cold, hot, 'degC')}, never the target for "
            "the mix",
            f"bring the water phase to {rounded_text(needed, 'degC')}",
            HEAT,
            stage=heat.id,
        )
    elif cold < low or hot > high:
        book.trouble(
            "mind",
            f"the ends of the bands give {span_text(cold, hot, 'degC')}, wider than the target for "
            "the mix",
            f"aim for the water phase at {rounded_text(needed, 'degC')}",
            HEAT,
            stage=heat.id,
        )


def _setting(book: Notebook, fat: Fat, cold: float, likely: float, stage: str) -> None:
    sets = fat.sets_below_c
    book.predict(
        "room_before_setting_k",
        "margin above the setting point",
        likely - sets.value,
        "K",
        f"the mixture is {value_text(likely - sets.value, 'K')} above "
        f"{exact_text(sets.value, 'degC')}, below which "
        f"{fat.name} begins to set",
        sets.source,
        stage=stage,
    )
    if cold < sets.value + 2 * sets.u:
        book.trouble(
            "will not work" if likely < sets.value else "mind",
            f"at the cold ends of the bands the mixture has {value_text(cold, 'degC')}; "
            f"{fat.name} begins to "
            f"set below {value_text(sets.value, 'degC', 2 * sets.u)}",
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
            "note",
            notice,
            "mind the stirring and the emulsifier",
            "Berryman (1983), Physical Review A 27, 1053; Hales (2005), Annals of Mathematics 162",
        )
