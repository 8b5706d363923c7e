"""Warming both phases, through the engine: bands, difference, mixture, forecast, readiness."""

import datetime
import math

import numpy as np
import pytest

from logger.correct.channel import Corrector
from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.reading import Reading
from logger.science.fats.fatfile import builtin_fats
from logger.virtual.bodies.probe import Probe
from logger.virtual.bodies.vessels import Vessel, VesselSpec
from logger.watch.engine.engine import Engine
from tests.watch.ingredients import FAT_AND_STOCK, HEAD
from tests.watch.watched import Watched

S = 1_000_000_000
FATS = builtin_fats()
STAGES = """
[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }
water = { low = "42 degC", high = "56 degC" }
"""
SHEET = HEAD + FAT_AND_STOCK + STAGES
MIX = 'mix = { low = "44 degC", high = "50 degC" }\n'
POUR = 'pour_after = "30 min"\n'
BOWL = '\n[[vessel]]\nid = "bowl"\nholds = "water"\nheat_capacity = "200 J/K"\n'


class Run(Watched):
    """Fat and water probes read once a second."""

    def __init__(self, sheet=SHEET, roles=("fat", "water", "room"), **given):
        self.engine = Engine(
            sheet_from_text(sheet, "roll.sheet.toml"),
            given.pop("bench", None) or bench_of_roles(list(roles)),
            correctors=given.pop("correctors", {}),
            fats=given.pop("fats", FATS),
        )
        self.t_s = 0
        self.said = list(self.engine.feed([Event(t_ns=0, kind="next", source="operator")], 0))

    def read(self, seconds, u=0.1, **channels):
        """Read channels for some seconds: numbers, or functions of the seconds since."""
        items = []
        for k in range(seconds):
            for name, value in channels.items():
                shown = value(k) if callable(value) else value
                items.append(Reading(name, (self.t_s + k) * S, shown, u))
        self.t_s += seconds
        self.said += self.engine.feed(items, self.t_s * S)
        return self


def test_phases_are_told_as_ready_only_once_they_have_been_so_for_five_seconds():
    run = Run().read(20, fat=40.0, water=48.0, room=21.0).read(7, fat=50.0, water=48.0, room=21.0)
    assert run.view.say == "Ready to combine."
    assert "ready" not in [e.kind for e in run.said]
    run.read(5, fat=50.0, water=48.0, room=21.0)
    assert "ready" in [e.kind for e in run.said]


def test_phases_in_their_bands_are_ready_to_combine_in_one_sentence():
    run = Run().read(30, fat=50.0, water=48.0, room=21.0)
    assert run.view.say == "Ready to combine."
    assert [e.kind for e in run.said].count("ready") == 1
    found = run.end()
    for check in (
        "fat temperature",
        "water temperature",
        "fat above water",
        "highest fat temperature (full melting)",
    ):
        assert found[check].verdict == "met", check
    assert found["fat above water"].value == pytest.approx(2.0)


def test_what_is_missing_is_said_exactly():
    run = Run().read(30, fat=50.0, water=38.0)
    assert "38.0 ± 0.2 °C, below the target of 42 to 56 °C" in run.view.say
    assert "ready" not in [e.kind for e in run.said]
    assert "Fat above water: 12.0 ± 0.3 K, above the target of −1 to 5 K" in run.text


def test_a_wrong_mixture_comes_with_the_water_temperature_that_would_do():
    """376.2 J/K of fat give (56 - 47) K to 1379.4 J/K of water: 47 - 2.45 = 44.5 degC, by hand."""
    run = Run(SHEET + MIX).read(30, fat=56.0, water=53.0)
    assert "After combining" in run.text
    assert "Water at 45 °C would give 47 °C." in run.text


def test_the_predicted_mixture_is_the_heat_balance_and_says_without_bowl():
    """(180 x 2.09 x 50 + 330 x 4.18 x 46)/(376.2 + 1379) = 46.86 degC, by hand."""
    run = Run().read(30, fat=50.0, water=46.0)
    by_hand = (376.2 * 50 + 330 * 4.18 * 46) / (376.2 + 330 * 4.18)
    assert run.numbers()["After combining"].value == pytest.approx(by_hand, abs=0.02)
    assert "without bowl" in run.text
    assert run.end()["predicted mixing temperature"].value == pytest.approx(by_hand, abs=0.02)
    assert "without bowl" not in Run(SHEET + BOWL).read(30, fat=50.0, water=46.0).text


COMBINE = """
[[stage]]
id = "combine"
kind = "emulsify"
rate = { low = "80 g/min", high = "100 g/min" }
"""


def test_a_pour_that_takes_its_time_lands_lower_and_less_sure():
    """180 g at 90 g/min take 120 s; 1.0 W/K x (510/500)^(2/3) x 25 K x 120 s = 3040 J off
    1755.6 J/K: 1.73 K lower by hand, 1.67 K as the loss falls on the way."""
    slow = Run(SHEET + COMBINE).read(30, fat=50.0, water=46.0, room=21.0)
    quick = Run().read(30, fat=50.0, water=46.0, room=21.0)
    a, b = slow.numbers()["After combining"], quick.numbers()["After combining"]
    assert b.value - a.value == pytest.approx(1.67, abs=0.02)
    assert a.u_expanded > b.u_expanded + 0.5
    assert "heat lost while pouring" in slow.text


def test_a_fat_that_was_never_all_melted_is_missing_and_takes_latent_heat():
    """At 34 degC cocoa butter is partly set (36 degC melts all of it)."""
    sheet = SHEET.replace("44 degC", "30 degC").replace("42 degC", "30 degC")
    run = Run(sheet).read(30, fat=34.0, water=40.0)
    assert "fully melted only above 36 °C" in run.text
    melted_c = (376.2 * 34 + 1379.4 * 40) / 1755.6
    solid = FATS["cocoa_butter"].solid_share(34.0)
    latent_k = 180.0 * solid * 157.0 / 1755.6
    assert latent_k > 0.5
    got = run.numbers()["After combining"].value
    assert got == pytest.approx(melted_c - latent_k, abs=0.05)
    assert run.end()["highest fat temperature (full melting)"].verdict == "not met"


def test_what_is_missing_names_the_sensor_whose_uncertainty_is_not_set():
    run = Run().read(30, u=math.nan, fat=50.0, water=48.0, room=21.0)
    assert "with bainlog sensor fat (bench file, channel fat:" in run.text
    assert run.view.tone == "warn"
    assert "the uncertainty of the water sensor is not set" in run.text
    assert "no reading" not in run.text
    assert run.view.say != "Ready to combine."


def test_without_a_water_probe_nothing_is_met():
    run = Run(roles=("fat",)).read(30, fat=50.0)
    assert "the bench has no water probe" in run.text
    found = run.end()
    assert found["water temperature"].verdict == "not measured"
    assert found["fat above water"].verdict == "not measured"
    assert found["fat temperature"].verdict == "met"


def test_a_silent_probe_takes_ready_away():
    run = Run().read(30, fat=50.0, water=48.0).read(30, fat=50.0)
    assert "no reading of the water probe" in run.text


def test_the_default_difference_is_shown_as_common_practice():
    assert "common practice, no source" in Run().read(10, fat=50.0, water=48.0).text
    own = SHEET + 'fat_above_water = { low = "-3 K", high = "9 K" }\n'
    assert "common practice" not in Run(own).read(10, fat=50.0, water=48.0).text


def test_a_difference_that_the_water_still_makes_good_is_not_missed_yet():
    gap = Run().read(10, fat=56.0, water=46.0).numbers()["Fat above water"]
    assert (gap.verdict, gap.text) == ("undecided", "not there yet: warm the water further")
    too_hot = Run().read(10, fat=75.0, water=48.0).numbers()["Fat above water"]
    assert (too_hot.verdict, too_hot.text) == ("not met", "")


@pytest.mark.parametrize(
    ("fat_c", "u", "do"),
    [
        (47.2, 0.1, "Warm the fat a little to be sure."),  # -0.8 K of -1 to 5 K
        (52.9, 0.1, "Warm the water a little to be sure."),  # 4.9 K
        (50.0, 1.5, "No difference would be sure with these probes"),  # +-4.2 K in a band of 6 K
    ],
)
def test_a_difference_too_close_to_call_comes_with_what_makes_it_sure(fat_c, u, do):
    guarded = SHEET.replace('"simple"', '"guarded"')
    assert f"to call. {do}" in Run(guarded).read(10, u=u, fat=fat_c, water=48.0).text


def test_errors_that_two_channels_of_a_board_share_do_not_count_in_their_difference():
    """Only the cold junction, +-0.5 K: each probe is uncertain by 0.29 K, their difference not."""
    bench = bench_from_text(
        '[bench]\nname = "T"\n'
        '[[instrument]]\nid = "b"\nport = "/dev/ttyUSB0"\nshape = "comma list of probes"\n'
        + "".join(
            f'[[channel]]\nid = "{r}"\ninstrument = "b"\nfield = "t{i}"\nrole = "{r}"\n'
            'resolution = 0.01\nrepeatability = 0.0\nsensor = { kind = "thermocouple", type = "T", '
            'class = 1, converter = "0 K", cold_junction = "0.5 K" }\n'
            'correction = { offset = "0 K", checked = 2026-11-02, by = "own bath", u = 0.01 }\n'
            for i, r in enumerate(("fat", "water"))
        ),
        "bench.toml",
    )
    today = datetime.date(2026, 11, 25)
    correctors = {c.id: Corrector(c, today) for c in bench.channel}
    u = correctors["fat"].u_at(50.0)
    run = Run(bench=bench, correctors=correctors).read(20, u=u, fat=50.0, water=48.0)
    gap = run.numbers()["Fat above water"]
    assert gap.u_expanded < 2 * math.hypot(u, u) - 0.2


def cooling_fat(minutes, seed=5):
    """What a probe shows of 180 g cocoa butter cooling from 56 degC in 20 degC: first heated."""
    spec = VesselSpec(ambient_c=20.0, loss_w_per_k=0.35, loss_exponent=1.2)
    vessel, probe = Vessel(spec, temp_c=40.0, fat_g=180.0), Probe(step_k=0.1, seed=seed)
    shown, true_c = [], []
    for second in range(60 * minutes):
        vessel.step(1.0, heater_w=60.0 if second < 180 else 0.0)
        true_c.append(vessel.temp_c)
        shown.append(probe.read(vessel.temp_c, 1.0))
    return np.array(shown), np.array(true_c)


def test_the_forecast_holds_the_truth_and_is_a_range():
    shown, true_c = cooling_fat(60)
    reached_s = int(np.argmax(true_c <= 25.0))
    assert reached_s > 1500
    run = Run(SHEET + POUR).read(1200, fat=lambda k: shown[k], water=48.0, room=20.3)
    (entry,) = run.view.forecasts
    left = entry.left_s
    assert left.early <= reached_s - 1200 <= left.late
    assert entry.limit_c == 25.0
    assert "may set in" in entry.says
    assert len(entry.cone) > 5
    assert all(low <= likely <= high for _, low, likely, high in entry.cone)
    rows = run.engine.results().forecasts
    assert {r.at_s % 60 for r in rows} == {0.0}
    assert {(r.channel, r.limit_c) for r in rows} == {("fat", 25.0)}


def test_just_after_heating_the_answer_is_cannot_tell_yet():
    shown, _ = cooling_fat(10)
    run = Run().read(240, fat=lambda k: shown[k], water=48.0, room=20.3)
    assert "Can't tell yet when the fat sets" in run.text
    assert run.view.forecasts == []


def test_a_planned_pour_after_the_early_end_is_warned_of():
    shown, _ = cooling_fat(60)
    run = Run(SHEET + 'pour_after = "90 min"\n')
    run.read(1200, fat=lambda k: shown[k], water=48.0, room=20.3)
    assert "may set before the pour planned at 1:30:00" in run.text
    assert run.view.tone == "warn"
    assert run.alarms()["warm.fat.setting"].state not in ("normal",)
    soon = Run(SHEET + 'pour_after = "21 min"\n')
    soon.read(1200, fat=lambda k: shown[k], water=48.0, room=20.3)
    assert "may set before the pour" not in soon.text


def test_a_limit_near_the_air_may_not_be_reached():
    shown, _ = cooling_fat(25)
    run = Run().read(1200, fat=lambda k: shown[k] + 5.0, water=48.0, room=25.2)
    assert "or not at all" in run.text
    assert run.view.forecasts[0].left_s.late is None


def test_a_phase_that_is_still_warming_up_is_no_alarm_but_one_that_falls_out_is():
    run = Run().read(30, fat=30.0, water=30.0)
    assert not [a for a in run.alarms().values() if a.id.endswith(".low") and a["sounds"]]
    run.read(30, fat=50.0, water=48.0).read(40, fat=50.0, water=41.0)
    assert run.alarms()["warm.water.low"].sounds


def test_an_unknown_fat_has_no_forecast_and_says_why():
    run = Run(SHEET.replace('"cocoa_butter"', '"lot_412"')).read(20, fat=50.0, water=48.0)
    assert "'lot_412' is not in the fats file" in run.text


@pytest.mark.parametrize("cut", [1, 61])
def test_any_cutting_of_the_stream_gives_the_same(cut):
    shown, _ = cooling_fat(40)

    def result(size):
        run = Run(SHEET + MIX)
        items = [
            Reading(name, k * S + offset, value, 0.1)
            for k in range(1500)
            for offset, name, value in ((0, "fat", float(shown[k])), (1, "water", 47.0))
        ]
        for first in range(0, len(items), size):
            piece = items[first : first + size]
            run.said += run.engine.feed(piece, piece[-1].t_ns)
        results = run.engine.finish(1500 * S)
        return run.said, results.findings, results.forecasts, results.values

    assert result(cut) == result(333)


def test_cautions_are_shown_and_nothing_is_called_safe():
    view = Run().read(5, fat=50.0, water=48.0).view
    assert any("Hot fat" in c for c in view.cautions)
    assert any("local rules" in c for c in view.cautions)
    assert "is safe" not in " ".join([view.say, *view.more, *view.cautions])
