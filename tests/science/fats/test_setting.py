"""Onset of setting on cooling curves with a known nucleation, and none where there was none."""

import numpy as np
import pytest

from logger.science.fats.setting import ArrestDetector, _loss_line
from logger.science.fats.settingpoint import read_setting_point
from tests.bench.phases import detect, false_onsets, onset_errors
from tests.virtual.cooling_runs import cooling_run


def synthetic(nucleates, *, growth_s=300.0, until_s=4000.0, latent_j_g=100.0):
    """A fat of 2.05 J/(g K) that loses heat by Newton's law (1/1500 s, air 12 degC) from 45 degC
    and sets 30 % from its nucleation on; 1 Hz, 0.25 degC steps, noise 0.1 degC."""
    times = np.arange(0.0, until_s, 1.0)
    temp, temps, began, solid = 45.0, [], None, 0.0
    for time_s in times:
        temps.append(temp)
        temp -= (temp - 12.0) / 1500.0
        if nucleates and began is None and temp <= 22.0:
            began = time_s
        if began is not None:
            grown = 0.3 * (1.0 - np.exp(-(((time_s - began) / growth_s) ** 2.5)))
            temp += (grown - solid) * latent_j_g / 2.05
            solid = grown
    noise = np.random.default_rng(3).normal(0.0, 0.1, times.size)
    return times, np.round((np.array(temps) + noise) / 0.25) * 0.25, began


def fed(times, temps, **more):
    detector = ArrestDetector(12.3, step_k=0.25, **more)
    changes = [detector.add(float(t), float(y)) for t, y in zip(times, temps, strict=True)]
    return detector, [c for c in changes if c is not None]


def test_onset_is_traced_back_to_the_nucleation_and_confirmed_by_the_rise():
    times, temps, began = synthetic(True)
    detector, changes = fed(times, temps)
    assert detector.arrest is not None
    assert detector.arrest.state == "confirmed"
    assert detector.arrest.onset_s == pytest.approx(began, abs=40.0)
    assert detector.arrest.onset_c == pytest.approx(22.0, abs=0.3)
    assert 30.0 < changes[0].detected_s - began < 180.0
    assert changes[0].state == "suspected"


def test_without_setting_nothing_is_seen():
    times, temps, _ = synthetic(False)
    assert fed(times, temps)[0].arrest is None


def test_above_the_melting_range_no_setting_is_looked_for():
    times, temps, _ = synthetic(True)
    assert fed(times, temps, below_c=20.0)[0].arrest is None


def test_little_heat_without_rise_stays_suspected():
    """A fat in much water: 30 J/g, so it does not warm by 0.75 K."""
    times, temps, began = synthetic(True, growth_s=600.0, until_s=3000.0, latent_j_g=30.0)
    detector, _ = fed(times, temps)
    assert detector.arrest is not None
    assert detector.arrest.onset_s == pytest.approx(began, abs=120.0)
    assert detector.arrest.state == "suspected"


def test_a_reset_forgets_the_curve():
    times, temps, _ = synthetic(True)
    detector, _ = fed(times, temps)
    detector.reset()
    assert detector.arrest is None
    assert detector.add(5000.0, 30.0) is None


def test_the_detector_does_not_care_where_readings_stop_and_go_on():
    """Fed up to a point and then on, as a live stream is: same answer."""
    times, temps, _ = synthetic(True)
    whole, _ = fed(times, temps)
    parts = ArrestDetector(12.3, step_k=0.25)
    for piece in np.array_split(np.arange(times.size), 37):
        for i in piece:
            parts.add(float(times[i]), float(temps[i]))
    assert parts.arrest == whole.arrest


@pytest.mark.slow
def test_over_seeded_vessels_the_onset_is_near_the_nucleation():
    """20 vessels not used in development; the full table is ``python -m tests.bench phases``."""
    found = onset_errors(range(5_000, 5_020))
    near = [e for e, _ in found if e is not None and abs(e) <= 120.0]
    assert len(near) >= 0.95 * len(found)
    assert false_onsets(range(205_000, 205_020)) == 0


def test_onset_and_plateau_are_read_and_named():
    """A bulk fat that warms itself: the plateau is the maximum of the recalescence."""
    run = next(
        r for r in (cooling_run(s, "power", sets=True) for s in range(5_100, 5_110))
        if r.nucleated_s is not None and r.lag_s < 5.0
    )  # fmt: skip
    arrest = detect(run).arrest
    assert arrest is not None
    point = read_setting_point(run.t_s, run.temp_c, arrest, 0.3)
    at = int(run.nucleated_s)
    assert point.point == "maximum of the recalescence"
    assert point.onset_c == pytest.approx(run.true_c[at], abs=2 * point.u_onset_k)
    assert point.plateau_c == pytest.approx(run.true_c[at:].max(), abs=0.4)
    assert point.cooling_k_per_min > 0.0
    assert "ISO 935" in point.says()
    assert point.point in point.says()


def test_without_a_rise_the_slowest_cooling_is_read():
    times, temps, _ = synthetic(True, growth_s=600.0, until_s=3000.0, latent_j_g=30.0)
    detector, _ = fed(times, temps)
    blocks_t = times[: times.size // 5 * 5].reshape(-1, 5).mean(axis=1)
    blocks_y = temps[: temps.size // 5 * 5].reshape(-1, 5).mean(axis=1)
    point = read_setting_point(blocks_t, blocks_y, detector.arrest, 0.3)
    assert point.point == "slowest cooling after the onset"
    assert point.plateau_c < point.onset_c + 0.5


@pytest.mark.parametrize(("sigmas", "bends"), [(5.9, False), (6.1, True), (-20.0, False)])
def test_a_loss_slows_down_where_its_bend_is_six_times_as_large_as_its_uncertainty(sigmas, bends):
    """The fit and its covariance are numpy's."""
    t_s = np.arange(0.0, 600.0, 10.0)
    centre, at_s = t_s - t_s.mean(), 700.0
    ripple = 1e-3 * np.cos(np.pi * np.arange(t_s.size))
    _, cov = np.polyfit(centre, ripple, 2, cov=True)
    own = np.polyfit(centre, ripple, 2)[0]
    logs = 3.0 - 1e-3 * centre + (sigmas * np.sqrt(cov[0, 0]) - own) * centre**2 + ripple
    bend, tilt, _ = np.polyfit(centre, logs, 2)
    slope = np.polyfit(centre, logs, 1)[0]
    found, sd_k = _loss_line(t_s, np.exp(logs), at_s)
    slower = -(tilt + 2.0 * bend * (at_s - t_s.mean()))
    assert found == pytest.approx(slower if bends else -slope)
    assert slower > 0.3 * -slope, "so that the bend tells"
    line = np.exp(np.polyval(np.polyfit(centre, logs, 1), centre))
    assert sd_k == pytest.approx(float(np.std(np.exp(logs) - line, ddof=2)))


def test_a_loss_slows_down_to_three_tenths_at_most_and_a_rise_is_no_loss():
    t_s = np.arange(0.0, 600.0, 10.0)
    centre = t_s - t_s.mean()
    logs = 3.0 - 1e-3 * centre + 1e-6 * centre**2
    found, _ = _loss_line(t_s, np.exp(logs), 1000.0)
    assert found == pytest.approx(0.3e-3)
    assert _loss_line(t_s, np.exp(3.0 + 1e-6 * centre), 700.0) is None
    assert _loss_line(t_s, np.exp(3.0 + 0.0 * centre), 700.0) is None
