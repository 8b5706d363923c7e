"""The emulsion while it is formed, through the engine: forecast, setting, limit, lost probe."""

import copy

import numpy as np
import pytest

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import Engine
from tests.watch.ingredients import FAT_AND_STOCK, HEAD
from tests.watch.stages.emulsify.combining import emulsion_curve, poured_g
from tests.watch.watched import Watched

S = 1_000_000_000
STAGES = """
[[stage]]
id = "combine"
kind = "emulsify"
mass = { low = "174 g", high = "186 g" }

[[stage]]
id = "portion"
kind = "form"
pieces = 6

[[stage]]
id = "dip"
kind = "coat"
pieces = 6

[[stage]]
id = "cold"
kind = "chill"
core = { high = "5 degC" }
"""
SHEET = HEAD + FAT_AND_STOCK + STAGES
POUR_ENDS_S, PORTION_S = 150, 210
COOLING, _ = emulsion_curve(False)
SETTING, NUCLEATED_S = emulsion_curve(True)
POURED = {}
"""Engines after the pour, by what the probe read: played once, then copied."""


class Run(Watched):
    """180 g poured from 30 to 150 s, portioning from 210 s on; a probe on a given curve."""

    def __init__(self, shown=COOLING, probe=None):
        self.shown, self.probe = shown, probe
        poured = tuple(self.emulsion_c(t_s) for t_s in range(PORTION_S))
        if poured not in POURED:
            self.engine = Engine(
                sheet_from_text(SHEET, "roll.sheet.toml"),
                bench_of_roles(["bowl_scale", "emulsion", "room"]),
                correctors={},
                fats=builtin_fats(),
            )
            self.t_s, self.said = 0, []
            self.next().until(PORTION_S)
            POURED[poured] = self.engine, self.said
        self.t_s = PORTION_S
        self.engine, self.said = copy.deepcopy(POURED[poured])

    def next(self):
        event = Event(t_ns=self.t_s * S, kind="next", source="operator")
        self.said += self.engine.feed([event], self.t_s * S)
        return self

    def emulsion_c(self, t_s):
        inside = 46.0 if t_s < POUR_ENDS_S else self.shown[t_s - POUR_ENDS_S]
        return inside if self.probe is None else self.probe(t_s, inside)

    def items(self, from_s, to_s):
        noise = np.random.default_rng(from_s + 1)
        for k in range(from_s * 10, to_s * 10):
            t_s = k / 10.0
            mass = 700.0 + poured_g(t_s) + noise.normal(0.0, 0.05)
            if t_s < PORTION_S:
                yield Reading("bowl_scale", k * S // 10, round(mass, 1), 0.1)
            if k % 10 == 0:
                yield Reading("emulsion", k * S // 10, self.emulsion_c(k // 10), 0.1)
                yield Reading("room", k * S // 10, 14.0, 0.3)

    def until(self, t_s, size=100_000):
        items = list(self.items(self.t_s, t_s))
        for first in range(0, len(items), size):
            piece = items[first : first + size]
            self.said += self.engine.feed(piece, piece[-1].t_ns)
        self.t_s = t_s
        return self

    def alarm(self):
        return self.alarms().get("combine.emulsion.setting")

    def found(self, stage):
        check = "emulsion temperature (setting point)"
        return [f for f in self.engine.results().findings if (f.check, f.stage) == (check, stage)]


def test_the_forecast_goes_on_while_the_emulsion_is_formed_and_holds_the_truth():
    reached_s = POUR_ENDS_S + next(i for i, c in enumerate(COOLING) if c <= 25.0)
    run = Run().next().until(900)
    (entry,) = run.view.forecasts
    assert entry.left_s.early <= reached_s - 900 <= entry.left_s.late
    assert entry.says in run.view.more
    assert entry.says.startswith("The emulsion's fat may set in ")
    times = [f.at_s for f in run.engine.results().forecasts if f.channel == "emulsion"]
    assert times == sorted(set(times))
    assert times[-1] >= 840


def test_setting_that_begins_while_forming_is_seen_once_and_alarms():
    run = Run(SETTING).next().until(POUR_ENDS_S + int(NUCLEATED_S) + 500)
    (row,) = run.engine.results().settings
    assert (row.channel, row.stage) == ("emulsion", "portion")
    assert row.onset_s == pytest.approx(POUR_ENDS_S + NUCLEATED_S, abs=120.0)
    kinds = [(e.kind, e.stage) for e in run.said if e.kind.startswith("setting_")]
    assert kinds == [("setting_suspected", "portion"), ("setting_confirmed", "portion")]
    assert run.alarm().sounds
    assert "to set at" in " ".join(run.view.more)


def test_the_lowest_temperature_of_each_stage_is_held_against_the_limit():
    run = Run().next().until(600).next().until(2400).next()
    (formed,), (dipped,) = run.found("portion"), run.found("dip")
    assert formed.verdict == "met"
    assert formed.value == pytest.approx(min(COOLING[60:450]), abs=0.01)
    assert dipped.verdict == "not met"
    assert dipped.value < 25.0
    assert (dipped.from_s, dipped.to_s) == (600.0, 2400.0)
    assert [e.stage for e in run.said if e.kind == "finding" and "setting point" in e.text] == [
        "dip"
    ]


def test_a_stage_that_chills_ends_it():
    run = Run().next().until(400).next().until(420).next().until(1200)
    assert run.engine.stage_id == "cold"
    assert run.view.forecasts == []
    assert not any("emulsion" in text for text in run.view.more)
    assert run.alarm() is None
    assert [f.at_s for f in run.engine.results().forecasts if f.at_s > 420.0] == []
    run.engine.finish(1200 * S)
    assert run.found("cold") == []


def in_air(from_s, to_s=10**9, lag_s=28.0, air_c=14.0):
    """A probe that lies in the air for a while: 28 s in still air (typical, unverified)."""

    def probe(t_s, inside):
        if not from_s <= t_s < to_s:
            return inside
        start = COOLING[from_s - POUR_ENDS_S]
        return round(air_c + (start - air_c) * float(np.exp(-(t_s - from_s) / lag_s)), 2)

    return probe


@pytest.mark.parametrize("taken_out_s", [180, PORTION_S, 400, 900])
def test_a_probe_that_is_taken_out_says_nothing_of_the_emulsion(taken_out_s):
    run = Run(probe=in_air(taken_out_s)).next().until(1500)
    assert "The probe is out of the emulsion" in " ".join(run.view.more)
    assert run.view.forecasts == []
    assert run.alarm() is None
    assert run.engine.results().settings == []
    run.next()
    (found,) = run.found("portion")
    if taken_out_s > PORTION_S:
        assert found.verdict == "met"
        assert found.value > COOLING[taken_out_s - POUR_ENDS_S] - 0.5
        assert found.to_s == pytest.approx(taken_out_s, abs=10.0)
    else:
        assert found.verdict == "not measured"
        assert "the probe was out of the emulsion" in found.evidence
    (combined,) = run.found("combine")
    assert combined.verdict == "met"


def test_a_probe_that_is_put_back_is_believed_again():
    run = Run(probe=in_air(300, 420)).next().until(410)
    assert "out of the emulsion" in " ".join(run.view.more)
    run.until(1000)
    assert len(run.view.forecasts) == 1
    run.next()
    (found,) = run.found("portion")
    assert found.value == pytest.approx(min(COOLING[: 1000 - POUR_ENDS_S]), abs=0.01)


def test_an_emulsion_that_fell_fast_itself_is_followed_again_once_it_is_steady():
    """Eight kelvin in 20 s, as in cold water; then it stands still, 18 K above the air."""

    def chilled(t_s, inside):
        return inside if t_s < 300 else round(max(40.0 - 0.4 * (t_s - 300), 32.0), 2)

    run = Run(probe=chilled).next().until(330)
    assert "out of the emulsion" in " ".join(run.view.more)
    run.until(420)
    assert "out of the emulsion" not in " ".join(run.view.more)
    run.next()
    (found,) = run.found("portion")
    assert found.value == pytest.approx(32.0, abs=0.01)


@pytest.mark.parametrize("cut", [37])
def test_any_cutting_of_the_stream_gives_the_same(cut):
    def result(size):
        run = Run(probe=in_air(300, 330)).next().until(700, size).next().until(800, size)
        got = run.engine.finish(800 * S)
        return run.said, got.findings, got.settings, got.forecasts

    assert result(cut) == result(100_000)


def test_taking_a_stage_back_takes_the_emulsion_back_too():
    run = Run().next().until(300)
    undo = Event(t_ns=300 * S, kind="undo", source="operator")
    run.said += run.engine.feed([undo], 300 * S)
    assert run.engine.stage_id == "combine"
    assert len(run.view.forecasts) <= 1
    run.until(400).next().until(700)
    assert run.engine.stage_id == "portion"
    assert len(run.view.forecasts) == 1
    times = [f.at_s for f in run.engine.results().forecasts]
    assert times == sorted(set(times))
