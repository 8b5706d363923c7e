"""A bench and a sheet of the smoked beet and barley roll, and contexts for single watchers."""

from collections.abc import Callable
from typing import Any

import pytest

from logger.model.bench import Bench
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.sheet import Sheet
from logger.watch.engine import registry as kinds
from logger.watch.engine.contract import Batch, Context, Outbox
from tests.watch.ingredients import FAT_AND_JUICE
from tests.watch.recording import Recording

ROLL_STAGES = """
[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }
water = { low = "42 degC", high = "56 degC" }

[[stage]]
id = "cold"
kind = "chill"
core = { high = "5 degC" }

[[stage]]
id = "pan"
kind = "cook"
core = { low = "63 degC" }
hold = "15 s"

[[stage]]
id = "pass"
kind = "hold"
core = { low = "57 degC" }
"""
ROLL_SHEET = (
    '[sheet]\nname = "Smoked beet and barley roll"\nrevision = 4\n' + FAT_AND_JUICE + ROLL_STAGES
)

ROLL_BENCH = """
[bench]
name = "Table 2"

[[instrument]]
id = "probes"
port = "usb:vid=0403,pid=6001,serial=A9"
shape = "comma list of probes"

[[instrument]]
id = "scale"
port = "usb:vid=0403,pid=6001,serial=B4"
shape = "flag-first scale"
""" + "".join(
    f"""
[[channel]]
id = "{role}"
instrument = "{"scale" if role.endswith("_scale") else "probes"}"
field = "{role}"
role = "{role}"
"""
    for role in (
        "fat",
        "water",
        "emulsion",
        "bath",
        "core",
        "room",
        "bowl_scale",
        "bath_scale",
        "bench_scale",
    )
)


@pytest.fixture(scope="session")
def roll_sheet() -> Sheet:
    """Return the sheet of the roll."""
    return sheet_from_text(ROLL_SHEET, "roll.sheet.toml")


@pytest.fixture(scope="session")
def table_bench() -> Bench:
    """Return a bench with a channel of every role."""
    return bench_from_text(ROLL_BENCH, "bench.toml")


@pytest.fixture
def make_context(roll_sheet: Sheet, table_bench: Bench) -> Callable[..., Context]:
    """Return a maker of contexts: of a stage of the roll by id, or of another sheet or bench."""

    def make(
        stage: str | None = None,
        *,
        sheet: Sheet | str | None = None,
        bench: Bench | str | None = None,
        start_s: float = 0.0,
        **given: Any,
    ) -> Context:
        if isinstance(sheet, str):
            sheet = sheet_from_text(sheet, "test.sheet.toml")
        if isinstance(bench, str):
            bench = bench_from_text(bench, "bench.toml")
        sheet = sheet or roll_sheet
        return Context(
            sheet=sheet,
            bench=bench or table_bench,
            stage=next(s for s in sheet.stage if s.id == stage) if stage is not None else None,
            start_ns=round(start_s * 1e9),
            batch=given.pop("batch", None) or Batch(),
            out=given.pop("out", None) or Outbox(),
            correctors=given.pop("correctors", {}),
            fats=given.pop("fats", {}),
        )

    return make


@pytest.fixture
def recording(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have every stage watched by `Recording`."""
    monkeypatch.setattr(kinds, "make", Recording)
