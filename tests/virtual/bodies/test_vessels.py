"""The physics of the virtual vessels, against closed forms and balances they do not use."""

import math

import pytest

from logger.virtual.bodies.vessels import Portion, SettingFat, Vessel, VesselSpec
from tests.virtual.cooling_runs import KINDS, cooling_run


def test_a_newton_vessel_follows_the_exponential():
    """100 g water, 0.5 W/K: exp(-t 0.5/418), by hand."""
    spec = VesselSpec(ambient_c=20.0, loss_w_per_k=0.5, loss_exponent=1.0)
    vessel = Vessel(spec, temp_c=60.0, water_g=100.0)
    vessel.step(600.0)
    assert vessel.temp_c == pytest.approx(20.0 + 40.0 * math.exp(-600.0 * 0.5 / 418.0), rel=1e-9)


def test_a_heater_warms_by_its_energy():
    """100 W for 60 s into 100 g water without loss: 6000 J / 418 J/K = 14.35 K."""
    vessel = Vessel(VesselSpec(loss_w_per_k=0.0), temp_c=20.0, water_g=100.0)
    assert vessel.step(60.0, heater_w=100.0) == pytest.approx(34.354, abs=1e-3)


def test_a_cold_wall_takes_its_share_and_no_heat_is_lost():
    """418 J/K of water at 60 and 100 J/K of wall at 20 degC: 52.28 degC, by hand."""
    spec = VesselSpec(loss_w_per_k=0.0, wall_j_per_k=100.0, wall_w_per_k=3.0)
    vessel = Vessel(spec, temp_c=60.0, water_g=100.0, wall_c=20.0)
    vessel.step(2000.0)
    assert vessel.temp_c == pytest.approx((418 * 60 + 100 * 20) / 518, abs=1e-3)


def test_open_water_loses_mass_and_cools_faster():
    """93 to 150 g/(m2 h) at 20 degC and 50 % humidity is usual for open water (see the drying
    literature); here within a factor of two of it."""
    still = VesselSpec(ambient_c=20.0, loss_w_per_k=0.0, open_cm2=100.0, humidity=0.5)
    vessel = Vessel(still, temp_c=20.0, water_g=1000.0)
    vessel.step(3600.0, heater_w=0.6)
    assert 60.0 < (1000.0 - vessel.water_g) / 0.01 < 300.0


def test_a_fat_supercools_sets_and_warms_itself():
    fat = SettingFat(nucleates_at_c=22.0, melts_at_c=28.0)
    vessel = Vessel(VesselSpec(ambient_c=15.0, fat=fat), temp_c=40.0, fat_g=100.0)
    lowest = highest = 40.0
    while vessel.time_s < 6000.0:
        vessel.step(5.0)
        if vessel.nucleated_s is None:
            lowest = vessel.temp_c
            highest = lowest
        highest = max(highest, vessel.temp_c)
    assert lowest == pytest.approx(22.0, abs=0.1)
    assert vessel.nucleated_s is not None
    assert 1.0 < highest - lowest < 6.0
    assert vessel.solid == pytest.approx(0.3, abs=0.02)


def test_set_fat_melts_again_and_takes_its_heat():
    """10 kJ into 100 g fat with 30 % set and 100 J/g: 3000 J melt it, the rest warms it."""
    fat = SettingFat(nucleates_at_c=22.0, melts_at_c=28.0)
    vessel = Vessel(VesselSpec(loss_w_per_k=0.0, fat=fat), temp_c=25.0, fat_g=100.0, solid=0.3)
    vessel.step(1000.0, heater_w=10.0)
    assert vessel.solid == 0.0
    assert vessel.temp_c == pytest.approx(25.0 + 7000.0 / 205.0, rel=1e-3)


def test_a_pour_keeps_mass_and_heat():
    giving = Vessel(VesselSpec(), temp_c=65.0, fat_g=200.0)
    bowl = Vessel(VesselSpec(), temp_c=60.0, water_g=300.0)
    portion = giving.pour_out(200.0)
    bowl.pour_in(portion)
    assert (giving.mass_g, bowl.mass_g) == (0.0, 500.0)
    assert bowl.temp_c == pytest.approx((410 * 65 + 1254 * 60) / 1664)
    assert giving.pour_out(10.0).mass_g == 0.0
    bowl.pour_in(Portion(water_g=0.0, fat_g=0.0, temp_c=10.0))
    assert bowl.mass_g == 500.0


@pytest.mark.parametrize("kind", KINDS)
def test_a_run_is_the_same_for_the_same_seed_and_ends_at_its_limit(kind):
    first, second = cooling_run(11, kind), cooling_run(11, kind)
    assert (first.temp_c == second.temp_c).all()
    assert first.kind == kind
    assert first.t_s[-1] - 1.0 <= first.limit_at_s <= first.t_s[-1]
    assert first.nucleated_s is None


def test_a_run_with_setting_goes_on_past_the_nucleation():
    run = cooling_run(12, sets=True)
    assert run.nucleated_s is not None
    assert run.t_s[-1] > run.nucleated_s + 600.0


def test_half_melted_fat_that_cools_again_sets_on_slowly_and_never_jumps():
    """The growth goes on from the share that is left: no warming above the melting point."""
    fat = SettingFat(nucleates_at_c=26.0, melts_at_c=34.0, sets_share=0.6, latent_j_per_g=157.0)
    spec = VesselSpec(ambient_c=20.0, fat=fat)
    vessel = Vessel(spec, temp_c=22.0, fat_g=180.0, solid=0.6)
    vessel.step(900.0)
    vessel.step(600.0, heater_w=30.0)
    warmest = 0.0
    for _ in range(600):
        before = vessel.temp_c
        vessel.step(5.0)
        warmest = max(warmest, vessel.temp_c - before)
    assert warmest < 1.0
    assert vessel.temp_c < fat.melts_at_c + 0.5
