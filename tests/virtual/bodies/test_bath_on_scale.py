import numpy as np
import pytest

from logger.virtual.bodies.bath_on_scale import BATH_KG_M3, BathOnScale, DippedPiece
from tests.virtual.bath_script import Scene
from tests.virtual.bath_session import bath_trace


def still(**options) -> BathOnScale:
    rng = np.random.default_rng(4)
    return BathOnScale(rng, step_g=0.01, noise_g=0.0, evaporation_g_s=0.0, **options)


def run(bath: BathOnScale, seconds: float) -> float:
    for _ in range(round(seconds / 0.02)):
        bath.step(0.02)
    return bath.reading_g()


def test_a_hung_piece_adds_the_water_it_displaces():
    bath = still()
    before = run(bath, 1.0)
    bath.dip(1, DippedPiece(mass_g=80.0, density_kg_m3=1030.0, hung=True))
    assert run(bath, 12.0) - before == pytest.approx(80.0 * BATH_KG_M3 / 1030.0, abs=0.02)


def test_a_piece_let_go_adds_its_mass():
    bath = still()
    before = run(bath, 1.0)
    bath.dip(1, DippedPiece(mass_g=80.0))
    assert run(bath, 12.0) - before == pytest.approx(80.0, abs=0.02)


def test_a_lifted_piece_takes_its_mass_and_its_drag_and_the_rest_drips_back():
    bath = still(drop_above_s=8.0)
    before = run(bath, 1.0)
    bath.dip(1, DippedPiece(mass_g=80.0, film_g=6.0, drag_g=1.5))
    run(bath, 12.0)
    bath.lift(1)
    assert run(bath, 1.4) - before < -3.0
    assert run(bath, 11.0) - before == pytest.approx(-1.5, abs=0.05)


def test_evaporation_top_up_and_ladle_change_the_level():
    bath = still()
    bath.evaporation_g_s = 0.01
    before = run(bath, 1.0)
    bath.pour(100.0, 3.0)
    bath.pour(-40.0, 1.0)
    assert run(bath, 10.0) - before == pytest.approx(60.0 - 0.1, abs=0.02)


def test_a_tare_shows_zero():
    bath = still()
    run(bath, 1.0)
    bath.tare()
    assert run(bath, 1.0) == pytest.approx(0.0, abs=0.01)


def test_a_seed_makes_the_same_trace_again():
    one, two = bath_trace(7), bath_trace(7)
    assert np.array_equal(one.mass_g, two.mass_g)
    assert one.truth == two.truth
    assert not np.array_equal(one.mass_g[:50], bath_trace(8).mass_g[:50])


def test_the_truth_lies_where_the_level_moves():
    trace = bath_trace(
        3,
        Scene(
            pieces=3,
            touches=0,
            stirs=0,
            top_ups=0,
            ladles=0,
            tares=0,
            gaps=0,
            redips=0,
            in_at_start=0,
            in_at_end=0,
            step_g=0.1,
        ),
    )
    for true in trace.truth.immersions:
        before = trace.mass_g[np.searchsorted(trace.t_s, true.in_s - 2.0)]
        after = trace.mass_g[np.searchsorted(trace.t_s, true.in_s + 4.0)]
        assert after - before == pytest.approx(true.mass_g, rel=0.08)


def test_a_gap_has_no_readings():
    trace = bath_trace(5, Scene(gaps=1))
    ((start, end),) = trace.truth.gaps_s
    assert not np.any((trace.t_s > start) & (trace.t_s < end))
