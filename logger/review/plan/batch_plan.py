"""The rest of a plan: amounts, what each kind of stage adds, cost, time, and what is not measured.

Pure; sheet and bench in, predictions and troubles out. Used by logger.review.plan.plan. What a kind
has alone is in ``plan_stage`` of ``logger/review/plan/kinds/<kind>.py``, if it has any.
"""

from collections.abc import Iterable

from logger.batch.amounts import fat_percent, pieces_of, share_percent
from logger.batch.cost import cost_of, currencies
from logger.model.bench import ROLE_LABELS, Bench
from logger.model.kinds.record.parts import optional_part
from logger.model.kinds.registry import Stage, kind_of, title_of
from logger.model.sheet import Sheet
from logger.model.written import Band
from logger.review.plan.planned import Notebook
from logger.words.bands import band_text
from logger.words.durations import duration_text
from logger.words.money import money_text
from logger.words.values import value_text

PLACE = "logger.review.plan.kinds.{kind}"


def plan_batch(book: Notebook, sheet: Sheet, bench: Bench | None) -> None:
    """Predict concentrations, pour, pieces, cost and time, and name what is not measured.

    Parameters
    ----------
    book : Notebook
        What is predicted is written into it.
    sheet : Sheet
        The plan of the batch.
    bench : Bench or None
        What measures it; None where there is no bench file.
    """
    _concentrations(book, sheet)
    for stage in sheet.stage:
        _targets(book, stage)
        own = optional_part(stage.kind, PLACE)
        if own is not None:
            own.plan_stage(book, sheet, stage)
    _cost(book, sheet)
    _time(book, sheet)
    if bench is not None:
        _unmeasured(book, sheet, bench)


def _targets(book: Notebook, stage: Stage) -> None:
    """Show the targets that the record of the kind wants in the plan."""
    for use in kind_of(stage).uses:
        target: Band | None = getattr(stage, use.target) if use.in_plan and use.target else None
        if target is not None:
            label = f"{ROLE_LABELS[use.role].lower()} in {title_of(stage)}"
            says = f"{label}: {band_text(target.low, target.high, target.unit)}"
            book.predict(
                f"{stage.id}_{use.target}",
                label,
                None,
                target.unit,
                says,
                "sheet",
                low=target.low,
                high=target.high,
                stage=stage.id,
            )


def _concentrations(book: Notebook, sheet: Sheet) -> None:
    percent = fat_percent(sheet)
    if percent is not None:
        book.predict(
            "fat_fraction_percent",
            "fat in the emulsion",
            percent,
            "%",
            f"fat is {value_text(percent, '%')} of fat and water phase by mass",
        )
    for name, phase, substance, label in (
        ("binder_percent", "water", "binder", "binder in the water phase"),
        ("salt_in_water_percent", "water", "salt", "salt in the water phase"),
    ):
        share = share_percent(sheet, phase, substance)
        if share is not None:
            book.predict(name, label, share, "%", f"{label}: {value_text(share, '%')} by mass")


def _cost(book: Notebook, sheet: Sheet) -> None:
    known, pieces = currencies(sheet), pieces_of(sheet)
    if not known:
        return
    cost = cost_of(sheet, {i.name: i.mass_g for i in sheet.ingredient}, pieces)
    if cost is None:
        book.untold.append(f"cost: prices in {' and '.join(known)}; give one currency")
        return
    currency, total = cost.currency, cost.batch
    without = f"; without {', '.join(cost.without)}, which have no price" if cost.without else ""
    source = "prices of the sheet"
    book.predict(
        "cost_batch",
        "cost of the batch",
        total,
        currency,
        f"the ingredients cost {money_text(total, currency)}{without}",
        source,
    )
    if cost.piece is not None:
        book.predict(
            "cost_piece",
            "cost of a piece",
            cost.piece,
            currency,
            f"{money_text(cost.piece, currency)} for each of {pieces} pieces",
            source,
        )
    if cost.kg is not None:
        book.predict(
            "cost_kg",
            "cost of a kg",
            cost.kg,
            f"{currency}/kg",
            f"{money_text(cost.kg, currency)} for a kg of filling (fat, water phase, filling; "
            "skin not "
            "counted)",
            source,
        )


def _time(book: Notebook, sheet: Sheet) -> None:
    if not sheet.stage:
        book.untold.append("total time: the sheet has no stages")
        return
    silent = [s.id for s in sheet.stage if s.planned_s is None]
    total_s = sum(s.planned_s or 0.0 for s in sheet.stage)
    if total_s > 0.0:
        but = f", without {', '.join(silent)}, which have no planned time" if silent else ""
        book.predict(
            "total_s",
            "total time",
            total_s,
            "s",
            f"the stages take {duration_text(total_s)}{but}",
            "planned times of the sheet",
        )
    else:
        book.untold.append("total time: no stage has a planned time (planned = ...)")


def _unmeasured(book: Notebook, sheet: Sheet, bench: Bench) -> None:
    for stage in sheet.stage:
        missing = _names(r for r in kind_of(stage).needed_roles if bench.channel_of(r) is None)
        if missing:
            book.trouble(
                "mind",
                f"the bench has no {missing} for stage {stage.id}",
                "its checks will be 'not measured'; add the channel or note the value by hand",
                "bench file",
                stage=stage.id,
            )


def _names(roles: Iterable[str]) -> str:
    return " and no ".join(ROLE_LABELS[r].lower() for r in roles)
