"""Work at the bench, played through the engine: what it says, shows on the way, and finds.

Seeded streams that other tests play too, and one day by formulas of time. No answer is judged here:
whether they are true is for the tests beside each room.
"""

import math
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from logger.correct.channel import Corrector
from logger.model.bench import Bench, bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.kinds.registry import KINDS
from logger.model.reading import Reading
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import Engine
from tests.answers.lines import of_each, table, written
from tests.review.second_kitchen.product import bench as kitchen_bench
from tests.watch.hands_judged import WORKS
from tests.watch.made_up import engine, made_up_sheet, stream_of
from tests.watch.second_hands.pans import DAY, S, bench_with, in_steps, stream

SHORT_S = 20
"""Length of a stage whose readings are made up [s]."""
Items = Sequence[Reading | Event]


def played(engine: Engine, items: Items, look_s: float, until_s: float) -> Iterator[str]:
    """Yield what an engine says and, every so many seconds, shows; then what it found."""
    for some, t_s in in_steps(items, look_s, until_s):
        for event in engine.feed(some, round(t_s * S)):
            yield f"said: {written(event)}"
        yield from _shown(engine, t_s)
    results = engine.finish(round(until_s * S))
    for event in engine.said:
        yield f"said: {written(event)}"
    yield from of_each(results)


def _shown(engine: Engine, t_s: float) -> Iterator[str]:
    state = engine.state(round(t_s * S))
    view = state.view
    yield f"at {t_s:.0f}: {state.stage} {view.tone} {view.say} {written(view.more)}"
    for name in ("numbers", "forecasts", "board", "pieces"):
        yield from table(f"  {name}", getattr(view, name))
    yield from table("  proposals", state.proposals)
    yield f"  alarms: {', '.join(f'{a.id} {a.state} {a.priority}' for a in state.alarms)}"
    shown = [(c.id, c.status, c.value, c.low, c.high, c.says) for c in state.channels]
    yield f"  channels: {written(shown)}"


def hands(work: str, habit: str, seed: int) -> Iterator[str]:
    """Play a case of clumsy hands; see ``tests.watch.second_hands``."""
    case = WORKS[work][0](habit, seed)
    bench = bench_with(case.scale)
    watched = Engine(
        sheet_from_text(case.sheet, "roll.sheet.toml"),
        bench,
        correctors={c.id: Corrector(c, DAY) for c in bench.channel},
        fats=builtin_fats(),
    )
    items = stream(case.pan, case.scale, case.until_s)
    yield from played(watched, items, 45.0, case.until_s)


def all_kinds() -> Iterator[str]:
    """Play a made-up stream through a stage of every kind."""
    items = stream_of(7, len(KINDS), SHORT_S)
    yield from played(engine(made_up_sheet()), items, 3.0 * SHORT_S, len(KINDS) * SHORT_S)


def formula(
    sheet: str, sensors: Mapping[str, Any], made: Callable[[], tuple[Items, float]]
) -> Iterator[str]:
    """Play a stream of ``by_formula`` on a bench of these roles and sensors."""
    items, until_s = made()
    tables = [
        {"id": role, "instrument": "box", "field": role, "role": role, "sensor": sensor}
        for role, sensor in sensors.items()
    ]
    box = {"id": "box", "port": "none", "shape": "none"}
    bench = Bench.model_validate({"bench": {}, "instrument": [box], "channel": tables})
    watched = Engine(
        sheet_from_text(sheet, "formula.sheet.toml"), bench,
        correctors={c.id: Corrector(c, DAY) for c in bench.channel}, fats=builtin_fats(),
    )  # fmt: skip
    yield from played(watched, items, max(20.0, until_s / 10.0), until_s)


DAY_SHEET = """
[sheet]
name = "Cheese-filled pepper roll"
[[ingredient]]
name = "butterfat"
phase = "fat"
fat = "butterfat"
mass = "120 g"
[[ingredient]]
name = "whey"
phase = "water"
substance = "water"
mass = "260 g"
[[stage]]
id = "warm"
kind = "heat"
fat = { low = "50 degC", high = "60 degC" }
water = { low = "46 degC", high = "56 degC" }
mix = { low = "44 degC", high = "58 degC" }
[[stage]]
id = "pour"
kind = "emulsify"
rate = { low = "40 g/min", high = "110 g/min" }
mass = { low = "114 g", high = "126 g" }
emulsion = { low = "44 degC", high = "56 degC" }
fat_fraction = { low = "28 %", high = "35 %" }
[[stage]]
id = "cool"
kind = "chill"
core = { high = "5 degC" }
[[stage]]
id = "rack"
kind = "dry"
[[stage]]
id = "pan"
kind = "cook"
core = { low = "63 degC" }
hold = "15 s"
[[stage]]
id = "pass"
kind = "hold"
core = { low = "57 degC" }
time = { high = "12 min" }
"""
LENGTHS_S = {"warm": 420, "pour": 150, "cool": 1500, "rack": 1800, "pan": 400, "pass": 500}
EVERY_S = 2


def towards(start: float, end: float, tau_s: float, t_s: float) -> float:
    """Return Newton's law at a time."""
    return end + (start - end) * math.exp(-t_s / tau_s)


def _warm(t_s: float) -> dict[str, float]:
    melt = min(t_s, 150.0) / 10.0 + max(0.0, t_s - 220.0) / 9.0
    return {"fat": 18.5 + melt, "water": towards(20.0, 52.0, 90.0, t_s), "bowl_scale": 310.0}


def _pour(t_s: float) -> dict[str, float]:
    share = min(max(t_s - 20.0, 0.0) / 95.0, 1.0)
    mixed = 51.0 - 1.2 * share - 0.004 * t_s
    fat = 55.0 - 0.03 * t_s
    return {"fat": fat, "water": mixed, "emulsion": mixed, "bowl_scale": 310.0 + 119.0 * share}


def _cool(t_s: float) -> dict[str, float]:
    core = towards(44.0, 1.0, 430.0, max(0.0, t_s - 60.0))
    return {"core": 21.0 if 700.0 < t_s < 740.0 else core, "room": 3.0}


def _rack(t_s: float) -> dict[str, float]:
    lost = min(t_s, 900.0) * 0.005 + 1.4 * (1.0 - math.exp(-max(0.0, t_s - 900.0) / 300.0))
    return {"bench_scale": 850.0 - lost, "room": 23.0}


def _pan(t_s: float) -> dict[str, float]:
    return {"core": towards(6.0, 90.0, 260.0, t_s)}


def _pass(t_s: float) -> dict[str, float]:
    return {"core": 70.0 if 200.0 < t_s < 204.0 else towards(72.0, 48.0, 600.0, t_s)}


WORK: dict[str, Callable[[float], dict[str, float]]] = {
    "warm": _warm, "pour": _pour, "cool": _cool, "rack": _rack, "pan": _pan, "pass": _pass,
}  # fmt: skip
SPREAD = {"bowl_scale": 0.03, "bench_scale": 0.02}


def day() -> Iterator[str]:
    """Play a day by formulas: melt and pour, chill with the probe out once, dry, cook, hold."""
    rng = random.Random(41)
    roles = ["fat", "water", "emulsion", "core", "room", "bowl_scale", "bench_scale"]
    known = {c.role: c for c in kitchen_bench().channel}
    bench = bench_of_roles(roles)
    correctors = {c.id: Corrector(known.get(c.role or "", c), DAY) for c in bench.channel}
    items: list[Any] = [Event(t_ns=0, kind="run_start", source="operator")]
    began_s = 0
    for stage, length_s in LENGTHS_S.items():
        begins = {"stage": stage}
        items.append(Event(t_ns=began_s * S, kind="stage", source="operator", data=begins))
        for t_s in range(EVERY_S, length_s, EVERY_S):
            for role, value in WORK[stage](float(t_s)).items():
                value = round(value + rng.gauss(0.0, SPREAD.get(role, 0.04)), 2)
                u = correctors[role].u_at(value)
                items.append(Reading(role, (began_s + t_s) * S, value, u, 0))
        began_s += length_s
    watched = Engine(
        sheet_from_text(DAY_SHEET, "day.sheet.toml"), bench, correctors=correctors,
        fats=builtin_fats(),
    )  # fmt: skip
    yield from played(watched, items, 150.0, float(began_s))
