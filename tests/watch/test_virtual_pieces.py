"""Pieces of whole virtual batches through the engine: masses, coats and dwells as they were."""

import datetime

import pytest

from logger.correct.channel import Corrector
from logger.model.files import sheet_from_text
from logger.science.fats.fatfile import builtin_fats
from logger.virtual.lines.bench_file import sheet_text
from logger.virtual.readings.simulate import simulate
from logger.watch.engine.engine import Engine
from tests.virtual.operator_events import begin_s, stream
from tests.watch.test_virtual_batch import bench_of

RATE_HZ = 4.0
KINDS = ("form", "coat", "set", "rinse", "dry")


def played(seed, causes=()):
    run = simulate(seed, causes, rate_hz=RATE_HZ)
    bench = bench_of(run)
    correctors = {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in bench.channel}
    engine = Engine(
        sheet_from_text(sheet_text(run), "s"), bench, correctors=correctors, fats=builtin_fats()
    )
    items = stream(run, until_s=begin_s(run, "cook") + 1.0)
    said = engine.feed(items, items[-1].t_ns)
    return run, said, engine.finish(items[-1].t_ns)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "causes"),
    [(100, ()), (10, ("thick_coat",)), (14, ("uneven_coat",))],
)
def test_masses_coats_and_dwells_are_those_that_were(seed, causes):
    run, _, results = played(seed, causes)
    truth = {p["piece"]: p for p in run.truth["immersions"]}
    known = {r.piece: r for r in results.pieces}
    assert set(known) == set(truth)
    for piece, true in truth.items():
        assert known[piece].bare_mass_g == pytest.approx(true["bare_g"], abs=0.03)
        assert known[piece].coat_mass_g == pytest.approx(true["coat_g"], abs=0.05)
        assert known[piece].coat_mm == pytest.approx(true["coat_mm"], abs=0.02)
    assert len(results.immersions) == len(truth)
    for row in results.immersions:
        if not row.ambiguous:
            assert row.dwell_s == pytest.approx(truth[row.piece]["dwell_s"], abs=0.5)


@pytest.mark.slow
def test_a_good_batch_raises_no_alarm_and_misses_no_target_from_forming_to_drying():
    _, said, results = played(3)
    stages = {s.id for s in results.stages if s.kind in KINDS}
    assert len(stages) == 5
    assert [e.text for e in said if e.kind == "alarm" and e.stage in stages] == []
    missed = [f for f in results.findings if f.stage in stages and f.verdict == "not met"]
    assert missed == []


@pytest.mark.slow
def test_an_early_pull_out_of_all_pieces_is_found_for_each():
    _, _, results = played(0, ("short_dwell",))
    dwells = [f.verdict for f in results.findings if f.check == "dwell"]
    assert dwells == ["not met"] * 6
