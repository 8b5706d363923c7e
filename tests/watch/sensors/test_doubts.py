"""Values that come but may not be true: stuck, exchanged, beside a drifting cold junction."""

import pytest

from logger.model.event import Event
from logger.model.files import bench_from_text
from logger.model.reading import Flag
from tests.watch.three_channels import PROBES, S, ThreeChannels, all_three


@pytest.fixture
def run(roll_sheet):
    return ThreeChannels(roll_sheet, bench_from_text(PROBES, "bench.toml"))


def test_a_lively_probe_whose_value_freezes_is_stuck(run):
    channels = all_three(run)
    run.play(60, **channels)
    run.play(58, **{**channels, "fat": 52.0})
    assert run.kinds("stuck") == []
    run.play(5, **{**channels, "fat": 52.0})
    assert run.kinds("stuck") == [("stuck", "fat")]
    assert run.channel("fat").status == "stuck"
    assert "fat.stuck" in run.alarms()
    run.play(2, **channels)
    assert run.channel("fat").status == "live"


def test_a_cooling_probe_with_a_coarse_display_that_stops_while_others_go_on_is_stuck(run):
    def cooling(start):
        return lambda t_s: round((start - t_s / 20) * 4) / 4

    run.play(120, fat=cooling(60), water=cooling(55.1))
    run.play(70, fat=54.0, water=cooling(55.1))
    assert run.kinds("stuck") == [("stuck", "fat")]


def test_a_bath_that_rests_between_two_display_steps_is_not_stuck(run):
    """A display of 0.25 K and a calm bath: minutes without a change are nothing special."""
    run.play(60, fat=lambda t: round((60 - t / 20) * 4) / 4, water=18.25)
    run.play(300, fat=lambda t: round((60 - t / 20) * 4) / 4, water=18.25)
    assert run.kinds("stuck") == []


def test_a_plunge_into_a_calm_bath_with_a_coarse_display_is_not_stuck(run):
    def plunged(t_s):
        return round((20.1 + 30 * max(0.0, 1 - max(0.0, t_s - 60) / 4)) * 4) / 4

    run.play(300, fat=lambda t: round((60 - t / 20) * 4) / 4, water=plunged)
    assert run.kinds("stuck") == []


def test_a_scale_with_nothing_happening_on_it_is_not_stuck(run):
    channels = all_three(run)
    run.play(300, **{**channels, "bath_scale": 900.0})
    assert run.kinds("stuck") == []


def test_a_scale_that_comes_to_rest_after_its_load_moved_is_not_stuck(run):
    """Stirred or filled it swings by many steps; its stability filter then holds one value."""
    channels = all_three(run)
    run.play(60, **{**channels, "bath_scale": run.jitter(184.0, 0.5, 2)})
    run.play(120, **{**channels, "bath_scale": 184.0}, flags={"bath_scale": Flag.STABLE})
    run.play(60, **{**channels, "bath_scale": run.jitter(184.0, 0.5, 2)})
    run.play(120, **{**channels, "bath_scale": 184.0})
    assert run.kinds("stuck") == []
    assert run.alarms() == {}
    assert run.channel("bath_scale").status == "live"


def test_a_scale_that_calls_one_and_the_same_value_unstable_for_a_minute_is_stuck(run):
    channels = all_three(run)
    hangs = {**channels, "bath_scale": 184.0}
    run.play(50, **hangs, flags={"bath_scale": Flag.UNSTABLE})
    run.play(1, **hangs, flags={"bath_scale": Flag.STABLE})
    run.play(55, **hangs, flags={"bath_scale": Flag.UNSTABLE})
    assert run.kinds("stuck") == []
    run.play(8, **hangs, flags={"bath_scale": Flag.UNSTABLE})
    assert run.kinds("stuck") == [("stuck", "bath_scale")]
    assert "press on the pan" in run.alarms()["bath_scale.stuck"].text
    run.play(3, **hangs, flags={"bath_scale": Flag.STABLE})
    assert run.channel("bath_scale").status == "live"


def test_a_board_that_repeats_one_line_is_stuck_as_a_whole(run):
    def dithering(level):
        return lambda t_s: level + 0.25 * (run.noise.random() < 0.5)

    run.play(60, fat=dithering(52), water=dithering(48), bath_scale=run.jitter(900, 0.02, 1))
    run.play(65, fat=52.0, water=48.0, bath_scale=run.jitter(900, 0.02, 1))
    assert sorted(run.kinds("stuck")) == [("stuck", "fat"), ("stuck", "water")]


def test_probes_that_come_back_exchanged_after_a_replug_are_told(run):
    run.play(30, fat=run.jitter(55), water=run.jitter(45))
    run.t_s += 5.0
    run.play(5, fat=run.jitter(45), water=run.jitter(55))
    assert run.kinds("exchange_suspected") == [("exchange_suspected", "fat")]
    assert "fat.water.exchanged" in run.alarms()


def test_probes_that_come_back_as_they_were_are_not_said_to_be_exchanged(run):
    run.play(30, fat=run.jitter(55), water=run.jitter(45))
    run.t_s += 5.0
    run.play(5, fat=run.jitter(54.6), water=run.jitter(45.2))
    assert run.kinds("exchange_suspected") == []


@pytest.mark.parametrize(
    ("temps_c", "warned"),
    [((22.0, 22.4, 22.6), False), ((22.0, 22.6, 23.2), True), ((47.0,), True), ((4.0,), True)],
)
def test_a_cold_junction_that_drifts_or_leaves_its_range_is_told(run, temps_c, warned):
    """More than 1 K in 10 min, or outside 5 to 45 degC (common practice, no source)."""
    for temp_c in temps_c:
        run.play(100, fat=run.jitter(55))
        told = Event(
            t_ns=round(run.t_s * S),
            kind="cold_junction",
            source="bench",
            port="probes",
            data={"temp_c": temp_c},
        )
        run.feed([told])
    run.play(5, fat=run.jitter(55))
    assert ("probes.cold_junction" in run.alarms()) is warned
