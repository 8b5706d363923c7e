"""The rest of a plan: amounts, pieces, pour, soak, cost, time, and what the bench cannot measure.

Pure; sheet and bench in, predictions and troubles out. Used by logger.review.plan.plan.
"""

from collections.abc import Iterable

from logger.batch.amounts import fat_percent, phase_g, pieces_of, share_percent
from logger.batch.cost import cost_of, currencies
from logger.model.bench import ROLE_LABELS, Bench
from logger.model.kinds.cook import CookStage
from logger.model.kinds.dry import DryStage
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.kinds.form import FormStage
from logger.model.kinds.hydrate import HydrateStage
from logger.model.kinds.registry import kind_of
from logger.model.kinds.stage import COMMON_PRACTICE
from logger.model.sheet import Sheet
from logger.review.plan.heat_plan import middle
from logger.review.plan.planned import Notebook
from logger.words.durations import duration_text
from logger.words.values import exact_text, rounded_text, value_text

FRYING_CAUTION = (
    "A wet skin in hot fat spits and can burst: blot and dry it, pan at most half full, lower it "
    "slowly, prick it or cook it through with steam first."
)
SOAK_PERCENT, SOAK_S = 3.0, 3600.0
"""A binder at about 3 % needs about an hour to thicken fully: common practice, no source."""


def plan_batch(book: Notebook, sheet: Sheet, bench: Bench | None) -> None:
    """Predict concentrations, pour, pieces, cost and time, and name what is not measured."""
    _concentrations(book, sheet)
    for stage in sheet.stage:
        if isinstance(stage, EmulsifyStage):
            _pour(book, sheet, stage)
        elif isinstance(stage, FormStage):
            _pieces(book, sheet, stage)
        elif isinstance(stage, HydrateStage):
            _soak(book, sheet, stage)
    dries = any(isinstance(s, DryStage) for s in sheet.stage)
    if any(isinstance(s, CookStage) for s in sheet.stage):
        book.cautions.append(FRYING_CAUTION)
        if not dries and any(s.kind in ("set", "rinse") for s in sheet.stage):
            book.trouble(
                "mind", "pieces go from bath or rinse to cooking without a drying stage",
                "add a dry stage before hot fat", COMMON_PRACTICE,
            )  # fmt: skip
    _cost(book, sheet)
    _time(book, sheet)
    if bench is not None:
        _unmeasured(book, sheet, bench)


def _concentrations(book: Notebook, sheet: Sheet) -> None:
    percent = fat_percent(sheet)
    if percent is not None:
        book.predict(
            "fat_fraction_percent", "fat in the emulsion", percent, "%",
            f"fat is {value_text(percent, '%')} of fat and water phase by mass",
        )  # fmt: skip
    for name, phase, substance, label in (
        ("binder_percent", "water", "binder", "binder in the water phase"),
        ("salt_in_water_percent", "water", "salt", "salt in the water phase"),
    ):
        share = share_percent(sheet, phase, substance)
        if share is not None:
            book.predict(name, label, share, "%", f"{label}: {value_text(share, '%')} by mass")


def _pour(book: Notebook, sheet: Sheet, stage: EmulsifyStage) -> None:
    poured_g = phase_g(sheet, stage.pour)
    if poured_g <= 0.0:
        return
    band, fraction = stage.mass_g, fat_percent(sheet)
    if band is not None and band.low is not None and poured_g < band.low:
        book.trouble(
            "will not work",
            f"the sheet weighs {exact_text(poured_g, 'g')} of {stage.pour} but wants at least "
            f"{exact_text(band.low, 'g')} "
            "poured",
            "bring ingredients and pour into line", "sheet", stage=stage.id,
        )  # fmt: skip
    wanted = stage.fat_fraction_percent
    if wanted is not None and fraction is not None:
        low = -1e9 if wanted.low is None else wanted.low
        high = 1e9 if wanted.high is None else wanted.high
        if not low <= fraction <= high:
            book.trouble(
                "will not work",
                f"the ingredients give {value_text(fraction, '%')} fat, outside the wanted fat "
                "fraction",
                "bring ingredients and fat fraction into line", "sheet", stage=stage.id,
            )  # fmt: skip
    if stage.rate_g_min is not None and stage.rate_g_min.high:
        rate = middle(stage.rate_g_min)
        takes_s = 60.0 * poured_g / rate
        slowest = stage.rate_g_min.low
        book.predict(
            "pour_s", "length of the pour", takes_s, "s",
            f"{exact_text(poured_g, 'g')} at {exact_text(rate, 'g/min')} take {takes_s / 60:.1f} "
            "min",
            low=60.0 * poured_g / stage.rate_g_min.high,
            high=60.0 * poured_g / slowest if slowest else None, stage=stage.id,
        )  # fmt: skip


def _pieces(book: Notebook, sheet: Sheet, stage: FormStage) -> None:
    pieces = stage.pieces or pieces_of(sheet)
    mass = sum(phase_g(sheet, p) for p in ("fat", "water", "filling"))
    if pieces is None or mass <= 0.0:
        return
    each_g = mass / pieces
    book.predict(
        "most_piece_g", "filling for each piece", each_g, "g",
        f"{exact_text(mass, 'g')} of filling are at most {rounded_text(each_g, 'g')} for each of "
        f"{pieces} pieces",
        stage=stage.id,
    )  # fmt: skip
    if stage.mass_g is not None and stage.mass_g.low is not None and each_g < stage.mass_g.low:
        book.trouble(
            "will not work",
            f"{pieces} pieces of at least {exact_text(stage.mass_g.low, 'g')} need "
            f"{exact_text(pieces * stage.mass_g.low, 'g')}; the sheet makes "
            f"{exact_text(mass, 'g')}",
            "fewer or smaller pieces, or a larger batch", "sheet", stage=stage.id,
        )  # fmt: skip


def _soak(book: Notebook, sheet: Sheet, stage: HydrateStage) -> None:
    percent = share_percent(sheet, "water", "binder")
    if percent is None or percent < 0.8 * SOAK_PERCENT:
        return
    planned_s = stage.time_s.low if stage.time_s is not None else stage.planned_s
    if planned_s is None or planned_s < SOAK_S:
        given = "no time" if planned_s is None else duration_text(planned_s)
        book.trouble(
            "mind", f"the binder is at {value_text(percent, '%')} and gets {given} to take up "
            "water",
            "let it soak about an hour, or make it overnight", COMMON_PRACTICE, stage=stage.id,
        )  # fmt: skip


def _cost(book: Notebook, sheet: Sheet) -> None:
    priced = [i for i in sheet.ingredient if i.price is not None]
    if not priced:
        return
    known, pieces = currencies(sheet), pieces_of(sheet)
    cost = cost_of(sheet, {i.name: i.mass_g for i in sheet.ingredient}, pieces)
    if cost is None:
        book.untold.append(f"cost: prices in {' and '.join(known)}; give one currency")
        return
    currency, total = cost.currency, cost.batch
    without = f"; without {', '.join(cost.without)}, which have no price" if cost.without else ""
    source = "prices of the sheet"
    book.predict(
        "cost_batch", "cost of the batch", total, currency,
        f"the ingredients cost {total:.2f} {currency}{without}", source,
    )  # fmt: skip
    if cost.piece is not None:
        book.predict(
            "cost_piece", "cost of a piece", cost.piece, currency,
            f"{cost.piece:.2f} {currency} for each of {pieces} pieces", source,
        )  # fmt: skip
    if cost.kg is not None:
        book.predict(
            "cost_kg", "cost of a kg", cost.kg, f"{currency}/kg",
            f"{cost.kg:.2f} {currency} for a kg of filling (fat, water phase, filling; skin not "
            "counted)", source,
        )  # fmt: skip


def _time(book: Notebook, sheet: Sheet) -> None:
    if not sheet.stage:
        book.untold.append("total time: the sheet has no stages")
        return
    silent = [s.id for s in sheet.stage if s.planned_s is None]
    total_s = sum(s.planned_s or 0.0 for s in sheet.stage)
    if total_s > 0.0:
        but = f", without {', '.join(silent)}, which have no planned time" if silent else ""
        book.predict(
            "total_s", "total time", total_s, "s",
            f"the stages take {total_s / 60:.0f} min{but}", "planned times of the sheet",
        )  # fmt: skip
    else:
        book.untold.append("total time: no stage has a planned time (planned = ...)")


def _unmeasured(book: Notebook, sheet: Sheet, bench: Bench) -> None:
    for stage in sheet.stage:
        missing = _names(r for r in kind_of(stage).needed_roles if bench.channel_of(r) is None)
        if missing:
            book.trouble(
                "mind", f"the bench has no {missing} for stage {stage.id}",
                "its checks will read not measured; add the channel or note the value by hand",
                "bench file", stage=stage.id,
            )  # fmt: skip


def _names(roles: Iterable[str]) -> str:
    return " and no ".join(ROLE_LABELS[r].lower() for r in roles)
