"""A batch on the virtual bench, whose truth is known, through the engine."""

import datetime
from functools import cache

import pytest

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.files import bench_from_text, sheet_from_text
from logger.science.fats.fatfile import builtin_fats
from logger.virtual.lines.bench_file import sheet_text
from logger.virtual.readings.simulate import SimulatedRun, simulate
from logger.virtual.readings.traces import WIRING
from logger.watch.engine.engine import Engine
from tests.virtual.operator_events import stream

HEALTH = ("stuck", "stale", "gap", "rate_drop", "exchange_suspected")


def bench_of(run: SimulatedRun) -> Bench:
    lines = []
    for wiring in WIRING:
        channels = [c for c in wiring.channels if c in run.channels]
        if channels:
            lines += ["[[instrument]]", f'id = "{wiring.id}"', 'port = "none"', 'shape = "none"']
        for channel in channels:
            lines += ["[[channel]]", f'id = "{channel}"', f'instrument = "{wiring.id}"']
            lines += [f'field = "{channel}"', f'role = "{channel}"']
    return bench_from_text("\n".join(lines), "bench.toml")


@cache
def played(
    seed: int, *faults: str, until_s: float = float("inf")
) -> tuple[SimulatedRun, Engine, list[Event]]:
    run = simulate(seed, faults=faults)
    bench = bench_of(run)
    correctors = {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in bench.channel}
    engine = Engine(
        sheet_from_text(sheet_text(run), "s"), bench, correctors=correctors, fats=builtin_fats()
    )
    items = stream(run, until_s=until_s)
    return run, engine, engine.feed(items, items[-1].t_ns)


def health(said, *kinds):
    return [(e.kind, e.channel) for e in said if e.kind in kinds]


@pytest.mark.slow
def test_a_clean_batch_raises_no_doubt_about_its_sensors():
    _, engine, said = played(2)
    assert health(said, *HEALTH) == []
    assert engine.results().gaps == []
    assert [e for e in said if e.kind == "tare_suspected" and e.channel != "bench_scale"] == []


@pytest.mark.slow
def test_every_ingredient_is_weighed_as_it_was():
    run, engine, _ = played(2)
    rows = {r.ingredient: r.mass_g for r in engine.results().weighings}
    truth = run.truth["weighed_g"]
    assert set(truth) <= set(rows)
    for name, mass_g in truth.items():
        assert rows[name] == pytest.approx(mass_g, abs=0.06), name


@pytest.mark.slow
def test_faults_of_the_bench_are_told_and_only_those():
    faults = {
        "open@800+30:fat": [("stale", "fat"), ("gap", "fat")],
        "silence@850+60:bath_scale": [("stale", "bath_scale"), ("gap", "bath_scale")],
        "stuck@1100+200:fat": [("stuck", "fat")],
        "stuck@2000+200:bath": [("stuck", "bath")],
    }
    _, _, said = played(4, *faults, until_s=2500.0)
    assert health(said, *HEALTH) == [told for found in faults.values() for told in found]


@pytest.mark.slow
def test_a_scale_that_slows_down_is_told_and_no_other_channel():
    _, _, said = played(4, "slow@800+60:bath_scale", until_s=1200.0)
    assert health(said, "rate_drop") == [("rate_drop", "bath_scale")]
    assert {channel for _, channel in health(said, *HEALTH)} == {"bath_scale"}


@pytest.mark.slow
def test_a_tare_of_the_bath_scale_is_suspected():
    _, _, said = played(5, "tare@2500:bath_scale", until_s=2900.0)
    assert ("tare_suspected", "bath_scale") in health(said, "tare_suspected")
