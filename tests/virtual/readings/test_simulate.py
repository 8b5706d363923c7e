"""A simulated run is the same for the same seed, and its scales show what its truth says."""

import itertools
import json

import numpy as np
import pytest

from logger.model.files import sheet_from_text
from logger.model.reading import Flag
from logger.virtual.batch.scenario import stages_of
from logger.virtual.lines.bench_file import sheet_text
from logger.virtual.readings.simulate import simulate
from logger.virtual.readings.traces import PROBE_OFFSET_K


@pytest.fixture(scope="module")
def full():
    return simulate(11)


@pytest.fixture(scope="module")
def short():
    return simulate(11, short=True)


def test_the_same_seed_gives_the_same_run_to_the_last_digit(short):
    again = simulate(11, short=True)
    assert again.truth == short.truth
    assert again.events == short.events
    for name, trace in short.channels.items():
        np.testing.assert_array_equal(again.channels[name].value, trace.value)
        np.testing.assert_array_equal(again.channels[name].flags, trace.flags)


def test_another_seed_gives_another_run(short):
    other = simulate(12, short=True)
    assert other.truth["pours"] != short.truth["pours"]


def test_the_full_batch_takes_60_to_75_minutes_and_goes_through_every_stage(full):
    assert 3600.0 <= full.truth["end_s"] <= 4500.0
    assert [s["id"] for s in full.truth["stages"]] == [s.id for s in stages_of(False)]
    spans = full.truth["stages"]
    assert all(a["end_s"] == b["start_s"] for a, b in itertools.pairwise(spans))


def test_the_short_batch_takes_about_12_minutes(short):
    assert 600.0 <= short.truth["end_s"] <= 840.0
    assert [s["id"] for s in short.truth["stages"]] == ["warm", "combine", "skin"]


@pytest.mark.parametrize("which", ["full", "short"])
def test_the_bowl_scale_gains_what_was_poured(which, request):
    run = request.getfixturevalue(which)
    trace, pour = run.channels["bowl_scale"], run.truth["pours"][0]
    before = trace.span(pour["start_s"] - 3.0, pour["start_s"] - 0.5)
    after = trace.span(pour["end_s"] + 2.0, pour["end_s"] + 5.0)
    gained_g = np.median(trace.value[after]) - np.median(trace.value[before])
    assert gained_g == pytest.approx(pour["mass_g"], abs=1.2)  # less what evaporates meanwhile


@pytest.mark.parametrize("which", ["full", "short"])
def test_the_bath_scale_steps_by_each_piece(which, request):
    run = request.getfixturevalue(which)
    trace = run.channels["bath_scale"]
    misses = 0
    for piece in run.truth["immersions"]:
        for at, sign in (("in", 1.0), ("out", -1.0)):
            t_s = piece[f"{at}_s"]
            before = np.median(trace.value[trace.span(t_s - 1.8, t_s - 0.9)])
            after = np.median(trace.value[trace.span(t_s + 3.0, t_s + 3.6)])
            misses += abs(after - before - sign * piece[f"mass_{at}_g"]) > 1.5
    assert misses <= 2  # a hand may lie on the tray just then


def test_what_the_bath_loses_is_on_the_pieces_or_in_the_air(short):
    truth = short.truth
    carried_g = sum(p["mass_out_g"] - p["mass_in_g"] for p in truth["immersions"])
    minutes = truth["end_s"] / 60.0
    lost_g = truth["bath_g"] - truth["bath_left_g"]
    assert lost_g == pytest.approx(carried_g + 0.1 * minutes, abs=1.0)


def test_the_bench_scale_rises_by_each_ingredient_until_its_mark(full):
    trace = full.channels["bench_scale"]
    stage_end_s = full.truth["stages"][0]["end_s"]
    marks_s = [t for t, kind, _ in full.events if kind == "mark" and t < stage_end_s]
    before_g = 0.0
    assert len(marks_s) == len(full.truth["weighed_g"])
    for t_s, (name, mass_g) in zip(marks_s, full.truth["weighed_g"].items(), strict=True):
        near = trace.span(t_s - 1.0, t_s)
        assert (trace.flags[near] & Flag.STABLE).all()
        shown_g = np.median(trace.value[near])
        new_bowl = min(abs(shown_g - mass_g), 1.0) < 0.03
        assert new_bowl or shown_g - before_g == pytest.approx(mass_g, abs=0.05), name
        before_g = shown_g


def test_probes_are_corrected_to_the_true_temperature_by_the_known_offset(full):
    trace = full.channels["fat"]
    t_s = full.truth["pours"][0]["start_s"]
    near = trace.span(t_s - 3.0, t_s)
    shown_c = trace.value[near].mean() - PROBE_OFFSET_K["fat"]
    assert shown_c == pytest.approx(full.truth["temperatures"]["fat_at_pour_c"], abs=0.4)


def test_a_moving_scale_does_not_call_itself_stable(full):
    trace = full.channels["bench_scale"]
    jumps = np.flatnonzero(np.abs(np.diff(trace.value)) > 20.0) + 1
    tared_s = np.asarray(full.script.bench.tares_s)
    apart_s = np.abs(trace.t_s[jumps][:, None] - tared_s).min(axis=1)
    jumps = jumps[apart_s > 0.5]  # a tare key moves the display, not the pan
    assert len(jumps) > 10
    assert not (trace.flags[jumps] & Flag.STABLE).any()


def test_readings_come_in_time_order_with_every_sample(short):
    readings = list(short.readings())
    times = [r.t_ns for r in readings]
    assert times == sorted(times)
    assert len(readings) == sum(len(t.t_s) for t in short.channels.values())


def test_swapped_probes_show_the_other_vessel():
    """After the pour the fat's pan is nearly empty and cools; the bowl stays warm."""
    right, swapped = simulate(3, short=True), simulate(3, ["probe_swapped"], short=True)
    t_s = right.truth["end_s"]
    for run, hotter in ((right, "water"), (swapped, "fat")):
        colder = "fat" if hotter == "water" else "water"
        late = {n: run.channels[n].value[run.channels[n].span(t_s - 20, t_s)].mean()
                for n in ("fat", "water")}  # fmt: skip
        assert late[hotter] > late[colder] + 3.0


def test_a_lower_rate_thins_the_samples(short):
    thin = simulate(11, short=True, rate_hz=2.0)
    assert len(thin.channels["bath_scale"].t_s) == pytest.approx(
        len(short.channels["bath_scale"].t_s) / 5, rel=0.01
    )
    assert thin.truth["immersions"][0]["in_s"] == short.truth["immersions"][0]["in_s"]


@pytest.mark.parametrize("which", ["full", "short"])
def test_the_truth_can_be_written_as_json(which, request):
    truth = request.getfixturevalue(which).truth
    assert json.loads(json.dumps(truth, allow_nan=False)) == truth


@pytest.mark.parametrize("short", [True, False])
def test_an_ordinary_batch_keeps_the_limits_of_its_sheet(short):
    for seed in range(5):
        run = simulate(seed, short=short, rate_hz=1.0)
        sheet = sheet_from_text(sheet_text(run), "sheet")
        stages = {s.id: s for s in sheet.stage}
        temps, pour = run.truth["temperatures"], run.truth["pours"][0]
        held = [
            (stages["warm"].fat_c, temps["fat_at_pour_c"]),
            (stages["warm"].water_c, temps["water_at_pour_c"]),
            (stages["combine"].rate_g_min, pour["rate_g_per_min"]),
            (stages["combine"].mass_g, pour["mass_g"]),
            *((stages["skin"].dwell_s, p["dwell_s"]) for p in run.truth["immersions"]),
            (stages["skin"].bath_c, temps["bath_c"]),
        ]
        if not short:
            pieces = run.truth["immersions"]
            lain_g = sum(p["mass_out_g"] for p in pieces)
            held += [
                *((stages["shape"].mass_g, p["bare_g"]) for p in pieces),
                *((stages["coat"].pickup_g, p["coat_g"]) for p in pieces),
                *((stages["coat"].thickness_mm, p["coat_mm"]) for p in pieces),
                (stages["firm"].core_c, temps["core_after_chill_c"]),
                (stages["cook"].core_c, temps["highest_core_c"]),
                (stages["air"].loss_percent, 100.0 * run.truth["dried_g"] / lain_g),
            ]
        for band, value in held:
            assert band.low is None or value >= band.low, (seed, band, value)
            assert band.high is None or value <= band.high, (seed, band, value)
