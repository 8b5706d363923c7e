"""How long the skin will need, and whether the calcium bath can set all the pieces.

Pure; sheet and bench in, predictions and troubles out. Used by logger.review.plan.plan.
"""

import math
from collections.abc import Mapping

from logger.batch.amounts import (
    BathAmounts,
    CoatAmounts,
    bath_amounts,
    body_of,
    coat_amounts,
    pieces_of,
    set_stage_of,
    unknowns_for,
)
from logger.model.bench import Bench
from logger.model.errors import CannotSetError, OutOfRangeError
from logger.model.kinds.coat import CoatStage
from logger.model.kinds.set import SetStage
from logger.model.sheet import Sheet
from logger.review.plan.heat_plan import middle
from logger.review.plan.planned import Notebook
from logger.science.calcium.inventory import REFRESH_BELOW, after_piece, fresh_bath
from logger.science.calcium.salts import CAUTION, WAIT_FOR_TEMPERATURE, warming_k
from logger.science.gel.coating import Body, coat_mass_g, coat_thickness_mm, coat_volume_mm3
from logger.science.gel.dwell import NeededDwell, Unknowns, needed_dwell
from logger.science.gel.gelling import (
    FILM_STILL_M_S,
    FILM_STIRRED_M_S,
    Coat,
    Surroundings,
    calcium_demand,
)
from logger.science.gel.slabs import SlabTest
from logger.watch.stages.set.skin import DRAG_G
from logger.words.bands import band_text
from logger.words.durations import about, exact_duration
from logger.words.values import exact_text, percent_text, value_text

FRONT = (
    "calcium front, Neumann's solution of the one-phase Stefan problem: Crank (1984), Free and "
    "Moving Boundary Problems, eq. 3.14"
)
GEL = f"{FRONT}; diffusivity and binding are given as ranges"
USUAL_BATH_C = 20.0
_NEAR = 0.97  # a sheet's limit this near the advised time is as good as it
_USUAL_SALT_PERCENT = (0.3, 3.0)  # outside, free calcium by an ideal solution is weaker


def plan_skin(
    book: Notebook, sheet: Sheet, bench: Bench | None, slabs: Mapping[str, SlabTest]
) -> None:
    """Predict concentrations, needed dwell and the calcium budget.

    The dwell goes by the slab test of the sheet's alginate where there is one.

    Parameters
    ----------
    book : Notebook
        What is predicted is written into it.
    sheet : Sheet
        The plan of the batch.
    bench : Bench or None
        What measures it; None where there is no bench file.
    slabs : mapping
        Slab tests by the alginate's name.
    """
    stage = set_stage_of(sheet)
    coat, bath = coat_amounts(sheet), bath_amounts(sheet)
    if coat is not None:
        book.predict(
            "alginate_percent",
            "alginate in the coat",
            100.0 * coat.mass_fraction,
            "%",
            f"the coat holds {value_text(100.0 * coat.mass_fraction, '%')} alginate and binds "
            f"{coat.capacity_mol_m3:.0f} mol/m³ of calcium",
        )
    if bath is not None:
        _strength(book, bath)
    if stage is None:
        return
    book.cautions.append(CAUTION)
    missing = [
        name
        for name, found in (
            ("alginate, up to 10 %, in the coat phase", coat),
            ("a calcium salt and water in the bath phase", bath),
            ("the shape of a piece", body_of(sheet)),
            ("the expected coat", expected_coat_mm(sheet)),
        )
        if found is None
    ]
    if missing:
        book.untold.append(f"needed dwell: the sheet lacks {', '.join(missing)}")
        return
    dwell = _dwell(book, sheet, stage, bench, unknowns_for(sheet, slabs))
    if dwell is not None:
        _against_sheet(book, stage, dwell)


def expected_coat_mm(sheet: Sheet) -> float | None:
    """Return the coat to plan with [mm]: as the set stage says, else the middle of the coat's."""
    stage = set_stage_of(sheet)
    if stage is not None and stage.expected_coat_mm is not None:
        return stage.expected_coat_mm
    for coat in sheet.stage:
        if isinstance(coat, CoatStage):
            if coat.thickness_mm is not None:
                return middle(coat.thickness_mm)
            amounts, body = coat_amounts(sheet), body_of(sheet)
            if coat.pickup_g is not None and amounts is not None and body is not None:
                return coat_thickness_mm(middle(coat.pickup_g), body, amounts.density_kg_m3)
    return None


def _strength(book: Notebook, bath: BathAmounts) -> None:
    percent = 100.0 * bath.mass_fraction
    free = bath.free_mol_m3(USUAL_BATH_C)
    book.predict(
        "salt_percent",
        "anhydrous salt in the bath",
        percent,
        "%",
        f"{exact_text(bath.salt_g, 'g')} of {bath.salt.key.replace('_', ' ')} make "
        f"{value_text(percent, '%')} anhydrous "
        f"salt, {free:.0f} mol/m³ of calcium at {exact_text(USUAL_BATH_C, 'degC')}",
        "molar masses from IUPAC standard atomic weights; density by Laliberté (2009), "
        "doi:10.1021/je8008123",
    )
    if not bath.salt.fully_free:
        book.trouble(
            "mind",
            f"{bath.salt.key.replace('_', ' ')} does not release all its calcium: setting takes "
            "longer than shown",
            "measure one coat, or use calcium chloride",
            "ion pairing; plateau about 100 s with chloride, 500 s with lactate, 2000 s with "
            "gluconate: study of basic spherification with sodium alginate",
        )
    low, high = _USUAL_SALT_PERCENT
    if not low <= percent <= high:
        book.trouble(
            "mind",
            f"{value_text(percent, '%')} anhydrous salt; usual is {band_text(low, high, '%')}",
            "check the hydrate and the decimal point; the setting times are less sure here",
            "common practice, no source",
        )
    warms = warming_k(bath.salt_g, bath.mass_g - bath.salt_g, bath.salt)
    if warms is not None and abs(warms) >= 0.5:
        book.predict(
            "bath_warming_k",
            "bath warms as the salt dissolves",
            warms,
            "K",
            f"dissolving {'warms' if warms > 0 else 'cools'} the bath by "
            f"{value_text(abs(warms), 'K')}. {WAIT_FOR_TEMPERATURE}",
            "heat of solution: from memory",
        )


def _dwell(
    book: Notebook, sheet: Sheet, stage: SetStage, bench: Bench | None, unknowns: Unknowns
) -> NeededDwell | None:
    coat, bath, body = coat_amounts(sheet), bath_amounts(sheet), body_of(sheet)
    coat_mm = expected_coat_mm(sheet)
    if coat is None or bath is None or body is None or coat_mm is None:
        return None
    room_c = bench.place.room_c if bench is not None else None
    temp_c = middle(stage.bath_c) if stage.bath_c is not None else room_c or USUAL_BATH_C
    pieces = pieces_of(sheet) or 1
    free = bath.free_mol_m3(temp_c)
    volume_mm3 = pieces * coat_volume_mm3(coat_mm, body)
    film = FILM_STIRRED_M_S if stage.stirred else FILM_STILL_M_S
    try:
        dwell = needed_dwell(
            Coat(thickness_mm=coat_mm, capacity_mol_m3=coat.capacity_mol_m3, body=body),
            Surroundings(
                temp_c=temp_c,
                free_calcium_mol_m3=free,
                film_m_s=film,
                demand=calcium_demand(
                    volume_mm3, coat.capacity_mol_m3, bath.volume_ml(temp_c), free
                ),
            ),
            unknowns=unknowns,
        )
    except (CannotSetError, OutOfRangeError) as cause:
        book.trouble(
            "will not work",
            f"the bath cannot set {pieces} coats of {exact_text(coat_mm, 'mm')}: {cause}",
            "more salt, more bath, fewer pieces or a thinner coat",
            GEL,
            stage=stage.id,
        )
        return None
    how = "stirred" if stage.stirred else "still"
    book.predict(
        "needed_dwell_s",
        "needed dwell, most likely",
        dwell.likely_s,
        "s",
        f"leave it {about(dwell.advised_s)}: {dwell.needs()} (coat of {exact_text(coat_mm, 'mm')} "
        f"at {exact_text(temp_c, 'degC')} in a {how} bath). Most of the range comes from the "
        f"{dwell.largest}. {_NARROWED.get(dwell.largest, '')}".rstrip(),
        f"{FRONT}; diffusivity from {unknowns.by}" if unknowns.by else GEL,
        low=dwell.low_s,
        high=dwell.high_s,
        stage=stage.id,
    )
    _budget(book, stage.id, coat, bath, body, coat_mm, pieces)
    return dwell


_NARROWED = {
    "thickness": "To narrow it, cut some pieces, measure the coat at its thickest and on average, "
    "divide the one by the other, and enter that as thickest coat, such as 1.15.",
    "diffusivity": "A slab test of the alginate narrows it.",
}
"""How the largest part of the range is made smaller."""


def _budget(
    book: Notebook,
    stage: str,
    coat: CoatAmounts,
    bath: BathAmounts,
    body: Body,
    coat_mm: float,
    pieces: int,
) -> None:
    left = fresh_bath(bath.mass_g, bath.mass_fraction, bath.salt.anhydrous_g_mol)
    volume_ml = coat_volume_mm3(coat_mm, body) * 1e-3
    done = 0
    try:
        for _ in range(pieces):
            left = after_piece(
                left,
                coat_volume_ml=volume_ml,
                capacity_mol_m3=coat.capacity_mol_m3,
                drag_g=DRAG_G,
            )
            done += 1
    except OutOfRangeError:
        book.trouble(
            "will not work",
            f"the bath is empty of calcium after {done} of {pieces} pieces",
            "more salt, more bath, or a fresh bath in between",
            GEL,
            stage=stage,
        )
        return
    pickup_g = coat_mass_g(coat_mm, body, coat.density_kg_m3)
    used = 1.0 - left.calcium_left
    book.predict(
        "calcium_used_percent",
        "calcium used by the batch",
        100.0 * used,
        "%",
        f"{pieces} coats of {value_text(pickup_g, 'g')} take {value_text(100.0 * used, '%')} "
        "of the calcium; the bath "
        f"ends at {percent_text(left.strength)} of its strength",
        "calcium bound by the coat, dissolved in it (assumed: 0.8 of the bath's concentration) "
        f"and carried out on pieces ({exact_text(DRAG_G, 'g')} each: from memory)",
        stage=stage,
    )
    if left.strength < REFRESH_BELOW:
        book.trouble(
            "mind",
            f"the bath ends at {percent_text(left.strength)} of its strength: the last pieces set "
            "slower",
            f"refresh it below {percent_text(REFRESH_BELOW)}, or make more bath",
            "bainlog's own limit, none is published",
            stage=stage,
        )


def _against_sheet(book: Notebook, stage: SetStage, dwell: NeededDwell) -> None:
    if stage.dwell_s is None:
        book.trouble(
            "note",
            f"the sheet sets no dwell; {dwell.says()}",
            "add a dwell band",
            GEL,
            stage=stage.id,
        )
        return
    low, high = stage.dwell_s.low, stage.dwell_s.high
    if high is not None and high < dwell.likely_s:
        book.trouble(
            "will not work",
            f"the longest dwell of the sheet is {exact_duration(high)}, but {dwell.needs()}",
            f"raise it to {about(dwell.advised_s)}, warm or strengthen the bath, or make the coat "
            "thinner",
            GEL,
            stage=stage.id,
        )
    elif high is not None and high < _NEAR * dwell.advised_s:
        book.trouble(
            "mind",
            f"the longest dwell of the sheet, {exact_duration(high)}, may not set the skin: "
            f"{dwell.needs()}",
            f"raise it to {about(dwell.advised_s)}, warm or strengthen the bath, or make the coat "
            "thinner",
            GEL,
            stage=stage.id,
        )
    elif low is None or low < _NEAR * dwell.advised_s:
        least_s = 60.0 * math.ceil(dwell.advised_s / 60.0)
        floor = "no shortest dwell" if low is None else f"a shortest dwell of {exact_duration(low)}"
        book.trouble(
            "mind",
            f"the sheet allows {floor}, but {dwell.needs()}",
            f"set the shortest dwell to {exact_duration(least_s)} or more",
            GEL,
            stage=stage.id,
        )
