"""Readings that no core of food can have are not trusted: spikes, a probe that was pulled out."""

import math
import random

import pytest

from logger.model.bench import bench_of_roles
from logger.model.files import sheet_from_text
from logger.science.gel.coating import Body
from logger.science.heat.corerate import HOTTEST_C, fastest_per_s
from logger.watch.sensors.plausible import Plausible, core_probes, hottest_of

S = 1_000_000_000


def core(body=None):
    return Plausible(fastest_per_s(body), 1.0, 10 * S)


def trusted(follows, values, every_s=1.0, from_s=0.0):
    """Return whether each value is trusted."""
    return [
        follows.trusts(round((from_s + k * every_s) * S), value) for k, value in enumerate(values)
    ]


@pytest.mark.parametrize("spike_c", [5.0, 30.0, 70.0, 120.0])
@pytest.mark.parametrize("every_s", [0.1, 1.0, 5.0])
def test_one_reading_far_off_is_not_trusted_and_the_next_is(spike_c, every_s):
    found = trusted(core(), [50.0] * 20 + [spike_c] + [50.0] * 20, every_s)
    assert found == [True] * 20 + [False] + [True] * 20


@pytest.mark.parametrize("air_c", [4.0, 22.0, 180.0])
@pytest.mark.parametrize("lag_s", [0.01, 2.0, 5.0])
@pytest.mark.parametrize("every_s", [0.1, 1.0, 2.0])
def test_a_probe_that_is_pulled_out_for_20_s_is_seen_as_out(air_c, lag_s, every_s):
    def read_c(t_s):
        out_c = air_c + (50.0 - air_c) * math.exp(-min(max(t_s - 60.0, 0.0), 20.0) / lag_s)
        return out_c if t_s < 80.0 else 50.0 + (out_c - 50.0) * math.exp(-(t_s - 80.0) / lag_s)

    times_s = [k * every_s for k in range(round(180 / every_s))]
    values = [read_c(t_s) for t_s in times_s]
    follows = core()
    found = trusted(follows, values, every_s)
    believed = [v for v, sure in zip(values, found, strict=True) if sure]
    assert min(believed) > 50.0 - 7.0
    assert max(believed) < 50.0 + 7.0
    assert found[-1]
    assert follows.moved is None
    assert all(found[round(120 / every_s) :])


def test_food_that_heats_or_chills_as_fast_as_its_size_allows_is_trusted():
    """A 25 mm cylinder into oil of 180 degC and into a bath of 1 degC, by its slowest mode."""
    body = Body(shape="cylinder", diameter_mm=25.0, length_mm=120.0)
    rate = fastest_per_s(body) / 1.5
    rng = random.Random(5)
    for start_c, around_c in ((5.0, 180.0), (75.0, 1.0)):
        values = [
            around_c + (start_c - around_c) * math.exp(-rate * t_s) + rng.gauss(0.0, 0.2)
            for t_s in range(600)
        ]
        assert all(trusted(core(body), values))


def test_a_larger_piece_refuses_what_a_small_one_takes():
    values = [50.0] * 20 + [50.0 + 0.5 * k for k in range(1, 21)]
    assert all(trusted(core(Body(shape="sphere", diameter_mm=20.0)), values))
    assert not all(trusted(core(Body(shape="sphere", diameter_mm=80.0)), values))


def test_a_new_level_counts_once_food_could_have_come_there_and_is_told():
    follows = core()
    found = trusted(follows, [40.0] * 60 + [4.0] * 120)
    assert found[:60] == [True] * 60
    back = found.index(False) + found[60:].index(True)
    assert 20 < back - 60 < 90
    assert all(found[back:])
    assert (follows.moved.from_c, follows.moved.to_c) == (40.0, 4.0)


def test_a_wrong_first_reading_costs_ten_seconds():
    found = trusted(core(), [150.0] + [50.0] * 30)
    assert found[0]
    assert not any(found[1:10])
    assert all(found[11:])


def test_silence_leaves_room_for_change():
    follows = core()
    assert all(trusted(follows, [60.0] * 30))
    assert all(trusted(follows, [35.0] * 30, from_s=630.0))


def test_noise_does_not_cost_readings():
    rng = random.Random(3)
    found = trusted(core(), [50.0 + rng.gauss(0.0, 0.25) for _ in range(5000)], 0.2)
    assert sum(found) >= 4990


CHAMBER = """
[sheet]
name = "Smoked beet and barley roll"
[[stage]]
id = "smoke"
kind = "cook"
core = {{ low = "72 degC" }}
{stated}
[[stage]]
id = "pass"
kind = "hold"
core = {{ low = "57 degC" }}
"""


def ramp_trusted(stated, k_per_min=20.0):
    """Whether readings that rise steadily from 50 to 80 degC are all trusted."""
    sheet = sheet_from_text(CHAMBER.format(stated=stated), "s")
    core = core_probes(sheet, bench_of_roles(["core"]))["core"]
    still = all(core.trusts(k * S, 50.0) for k in range(300))
    rise = [50.0 + k * k_per_min / 60.0 for k in range(1, round(1800.0 / k_per_min))]
    return still and all(core.trusts((300 + k) * S, c) for k, c in enumerate(rise, 1))


def test_a_core_rises_no_faster_than_the_stated_surroundings_can_heat_it():
    """A cylinder of 25 mm, time constant 169 s: at 50 degC in 250 degC 1.8 K/s at most with the
    margin, in 85 + 20 degC 0.5 K/s."""
    assert ramp_trusted("")
    assert not ramp_trusted('pan_temp = { high = "85 degC" }', 60.0)
    assert ramp_trusted('pan_temp = { high = "85 degC" }', 5.0)


def test_surroundings_are_not_bounded_unless_every_cooking_stage_states_them():
    twice = '[[stage]]\nid = "pan"\nkind = "cook"\ncore = {{ low = "72 degC" }}\n'
    sheet = CHAMBER.format(stated='pan_temp = { high = "85 degC" }')
    assert hottest_of(sheet_from_text(sheet, "s")) == 105.0
    assert hottest_of(sheet_from_text(sheet + twice.format(), "s")) == HOTTEST_C
    assert hottest_of(sheet_from_text(CHAMBER.format(stated=""), "s")) == HOTTEST_C
