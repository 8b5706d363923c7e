"""Values that can't be made up field by field: of sheets, benches, fats and runs that tests have.

A sheet's or bench's parts are kept by their class, so that a function that asks for a band or a
stage gets those of a sheet.
"""

import datetime
import random
from collections.abc import Iterator
from functools import cache
from typing import Any

from pydantic import BaseModel

from logger.correct.channel import Corrector
from logger.model.bench import bench_of_roles
from logger.model.files import sheet_from_text
from logger.review.learn.sheets import template
from logger.review.plan.planned import Notebook
from logger.review.why.explain import witness_of
from logger.review.why.knowledge import builtin_knowledge
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.contract import Batch, Context, Outbox
from logger.words.shown import AsRecorded
from tests.review.conftest import make
from tests.review.second_kitchen.product import SHEET, bench
from tests.watch.made_up import ROLES, made_up_sheet

DAY = datetime.date(2026, 11, 25)


def _parts(model: BaseModel) -> Iterator[BaseModel]:
    """Yield a model and all inside it."""
    yield model
    for name in type(model).model_fields:
        value = getattr(model, name)
        for each in value if isinstance(value, list | tuple) else (value,):
            if isinstance(each, BaseModel):
                yield from _parts(each)


@cache
def _kept() -> dict[str, list[Any]]:
    """Return what there is, by the name of its class."""
    sheets = [sheet_from_text(template(), "sheet"), SHEET, made_up_sheet()]
    found: dict[str, list[Any]] = {}
    for whole in (*sheets, bench(), bench_of_roles(ROLES)):
        for part in _parts(whole):
            found.setdefault(type(part).__name__, []).append(part)
    good = [make(f"good{i}", seed=100 + i) for i in range(4)]
    bad = make("bad", outcome="rejected", defects=["grainy"], changed={"fat_at_pour_c": 35.0})
    fats = builtin_fats()
    return found | {
        "date": [DAY, datetime.date(2025, 1, 31)],
        "Fat": [fats[key] for key in sorted(fats)[:3]],
        "Portrait": [*good, bad],
        "Feature": list(bad.features.values()),
        "Witness": [witness_of(bad, good, builtin_knowledge())],
        "Mechanism": list(builtin_knowledge()),
        "Numbers": [AsRecorded()],
        "Corrector": [Corrector(channel, DAY) for channel in bench().channel],
    }


def _context(rng: random.Random) -> Context:
    sheet = rng.choice(_kept()["Sheet"])
    return Context(
        sheet=sheet, bench=bench_of_roles(ROLES), stage=rng.choice(sheet.stage), start_ns=0,
        batch=Batch(), out=Outbox(), correctors={}, fats=builtin_fats(),
    )  # fmt: skip


def of(name: str, rng: random.Random) -> Any:
    """Return something of a class by its name, or None where there is nothing."""
    if name in ("Context", "Known"):
        return _context(rng)
    if name == "Notebook":
        return Notebook()
    kept = _kept().get(name)
    return rng.choice(kept) if kept else None
