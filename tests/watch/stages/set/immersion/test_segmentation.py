import numpy as np
import pytest

from logger.watch.stages.set.immersion.segmentation import Segmenter


def found(t, x):
    segmenter = Segmenter()
    for at, mass in zip(t, x, strict=True):
        segmenter.feed(at, mass)
    return [*segmenter.finished, segmenter.current]


@pytest.mark.parametrize(
    ("rate_hz", "within_s"), [(2.0, 0.2), (5.0, 0.1), (10.0, 0.05), (20.0, 0.05)]
)
def test_a_clean_ramp_is_timed_by_its_middle(bath, rate_hz, within_s):
    first, second = found(*bath((20.03, 80.0), until_s=40.0, rate_hz=rate_hz))
    assert second.edge_s == pytest.approx(20.03, abs=within_s)
    assert second.start_g - first.end_g == pytest.approx(80.0, abs=0.3)


def test_a_steady_level_is_one_segment(bath):
    assert len(found(*bath(until_s=600.0, noise_g=0.4))) == 1


def test_drift_is_no_edge():
    t = np.arange(0, 1200, 0.2)
    assert len(found(t.tolist(), np.round(1500 - 2.0 / 60 * t, 1).tolist())) == 1


def test_a_touch_makes_two_edges_and_returns_to_the_level(bath):
    first, _, third = found(*bath((20.0, 40.0), (22.0, -40.0), until_s=40.0, edge_s=0.2))
    assert third.start_g == pytest.approx(first.end_g, abs=0.2)


def test_a_touch_right_before_a_dip_does_not_move_its_time(bath):
    moves = ((18.6, 50.0), (19.4, -50.0), (20.5, 80.0))
    segments = found(*bath(*moves, until_s=40.0, edge_s=0.4))
    assert segments[-1].edge_s == pytest.approx(20.5, abs=0.05)


def test_drips_do_not_move_the_time_of_a_lift_nor_its_level():
    t = np.arange(0, 60, 0.1)
    x = (
        2080
        - 85.0 * np.clip((t - 30) / 0.6 + 0.5, 0, 1)
        + 3.5 * (1 - np.exp(-np.clip(t - 30.3, 0, 99)))
    )
    first, second = found(t.tolist(), np.round(x, 1).tolist())
    assert second.edge_s == pytest.approx(30.0, abs=0.05)
    assert first.end_g - second.start_g == pytest.approx(81.5, abs=0.3)


def test_an_edge_in_a_gap_is_hidden_and_lies_between_its_ends(bath):
    t, x = bath((20.0, 80.0), until_s=40.0)
    kept = [(a, b) for a, b in zip(t, x, strict=True) if not 17.0 < a < 24.0]
    _, second = found(*zip(*kept, strict=True))
    assert second.in_gap
    assert (second.edge_from_s, second.edge_to_s) == pytest.approx((17.0, 24.0), abs=0.11)


def test_readings_without_a_value_are_a_gap(bath):
    t, x = bath((20.0, 80.0), until_s=40.0)
    x = [None if 17.0 < a < 24.0 else b for a, b in zip(t, x, strict=True)]
    assert found(t, x)[1].in_gap


def test_a_gap_without_a_change_is_no_edge(bath):
    t, x = bath(until_s=60.0)
    kept = [(a, b) for a, b in zip(t, x, strict=True) if not 17.0 < a < 40.0]
    assert len(found(*zip(*kept, strict=True))) == 1


def test_a_pour_takes_long_and_a_dip_does_not(bath):
    dip = found(*bath((20.0, 80.0), until_s=40.0))[1]
    pour = found(*bath((20.0, 300.0), until_s=40.0, edge_s=5.0))[1]
    assert dip.rise_s == pytest.approx(0.8, abs=0.15)
    assert pour.rise_s == pytest.approx(5.0, abs=0.5)


def test_times_that_do_not_rise_are_ignored(bath):
    t, x = bath((20.0, 80.0), until_s=40.0)
    doubled = [pair for pair in zip(t, x, strict=True) for _ in range(2)]
    once, twice = found(t, x), found(*zip(*doubled, strict=True))
    assert [p.edge_s for p in once] == [p.edge_s for p in twice]
