"""A sheet from runs proposes what worked and says how many runs stand behind it."""

import dataclasses

import numpy as np
import pytest

from logger.batch.names import wrong_names
from logger.model.errors import OutOfRangeError
from logger.model.files import sheet_from_text
from logger.model.finding import Finding
from logger.review.features.feature import BY_NAME, Feature
from logger.review.features.portrait import portrait
from logger.review.learn.learned import learned_sheet, width_says
from logger.review.learn.sheet_text import sheet_as_toml
from logger.review.learn.sheets import differences, template
from logger.review.plan.plan import plan
from logger.science.fats.fatfile import builtin_fats
from logger.watch.verdict.checks import judge
from tests.bench.figures.virtual_runs import judged


def proposal(found, key, stage):
    return next(p for p in found if p.key == key and p.stage == stage)


def test_targets_come_from_the_good_runs_with_their_number(good_runs):
    sheet, found = learned_sheet(good_runs)
    fat = proposal(found, "fat_c", "warm")
    assert fat.runs == 8
    assert 48.0 < fat.band.low < 52.0 < 54.0 < fat.band.high < 58.0
    assert fat.band.source == "proposed from 8 good batches"
    assert sheet.sheet.revision == good_runs[0].sheet.sheet.revision + 1
    assert next(s for s in sheet.stage if s.id == "warm").fat_c == fat.band


def test_a_run_that_worked_meets_the_targets_made_of_it(make_run):
    run = make_run(seed=5)
    _, found = learned_sheet([run])
    assert found
    for one in found:
        for name, feature in run.features.items():
            if feature.spec.target == one.key and feature.stage == one.stage:
                verdict, says = judge(feature.value, feature.u, one.band, "guarded")
                assert verdict == "met", (name, says)
        assert one.runs == 1


def test_the_next_good_run_mostly_meets_the_targets_of_eight(make_run, good_runs):
    _, found = learned_sheet(good_runs)
    asked = met = 0
    for i in range(40):
        run = make_run(f"n{i}", seed=5000 + i)
        for one in found:
            for feature in run.features.values():
                if feature.spec.target == one.key and feature.stage == one.stage:
                    asked += 1
                    met += judge(feature.value, feature.u, one.band, "guarded")[0] == "met"
    assert met / asked > 0.93


def test_what_the_sheet_leaves_open_stays_open(make_run, good_runs):
    text = sheet_as_toml(good_runs[0].sheet).replace(
        'bath = { low = "16 degC", high = "24 degC" }', 'bath = { low = "16 degC" }'
    )
    runs = [make_run(g.run_id, seed=i, text=text) for i, g in enumerate(good_runs)]
    band = proposal(learned_sheet(runs)[1], "bath_c", "skin").band
    assert band.high is None
    assert band.low is not None


def test_the_sheet_made_from_runs_reads_back(good_runs):
    sheet, _ = learned_sheet(good_runs)
    text = sheet_as_toml(sheet, head="learned")
    assert "proposed from 8 good batches" in text
    assert sheet_from_text(text, "learned") == sheet


def test_without_a_run_there_is_nothing_to_learn():
    with pytest.raises(OutOfRangeError):
        learned_sheet([])


# From one run alone.

COOKED = """
[[stage]]
id = "pan"
kind = "cook"
core = { low = "72 degC", high = "90 degC" }

[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }

[[stage]]
id = "warmer"
kind = "hold"
time = { high = "30 min" }
"""


def cooked(make_run, **values):
    """A run whose sheet ends with a pan, a fridge and a warmer."""
    run = make_run(seed=5, text=template() + COOKED)
    stages = {"core_highest_c": "pan", "core_after_chill_c": "fridge", "hold_s": "warmer"}
    more = {
        name: Feature(spec=BY_NAME[name], stage=stages[name], value=value, u=0.3)
        for name, value in values.items()
    }
    return dataclasses.replace(run, features=run.features | more)


def test_a_sheet_from_one_run_reads_and_the_plan_takes_it(make_run):
    run = make_run(seed=5)
    sheet, found = learned_sheet([run])
    again = sheet_from_text(sheet_as_toml(sheet, head="from one run"), "learned")
    assert again == sheet
    fats = builtin_fats()
    assert wrong_names(again, "learned", fats) == []
    grave = [t.says for t in plan(again, None, fats).troubles if t.weight == "will not work"]
    before = [t.says for t in plan(run.sheet, None, fats).troubles if t.weight == "will not work"]
    assert grave == before == []
    assert len(found) >= 8


def test_the_difference_from_the_old_sheet_is_its_targets_and_nothing_else(make_run):
    run = make_run(seed=5)
    sheet, found = learned_sheet([run])
    wheres = {c.where for c in differences(run.sheet, sheet)}
    assert {w for w in wheres if not w.startswith("stage ")} <= {"sheet: revision", "sheet: change"}
    assert len([w for w in wheres if w.startswith("stage ")]) == len(found)
    assert sheet.ingredient == run.sheet.ingredient
    assert [s.id for s in sheet.stage] == [s.id for s in run.sheet.stage]


def test_one_run_says_that_it_is_one_and_that_its_tolerance_is_a_habit(make_run):
    sheet, found = learned_sheet([make_run(seed=5)])
    assert {p.band.source for p in found} == {"proposed from 1 good batch"}
    assert all("(proposed from 1 good batch)" in p.says for p in found)
    assert sheet.sheet.change == "targets from 1 good batch"
    assert "common practice, no source" in width_says([make_run()])
    assert width_says([make_run(), make_run(), make_run()]) == ""


def test_a_run_without_an_outcome_is_not_called_good(make_run):
    _, found = learned_sheet([make_run(seed=5, outcome=None)])
    assert {p.band.source for p in found} == {"proposed from 1 run"}


def test_limits_of_cooking_chilling_and_holding_are_neither_loosened_nor_narrowed(make_run):
    """That a batch tasted well says nothing of them, whichever side it came out on."""
    for core_c, chilled_c, held_s in ((71.5, 6.5, 2400.0), (80.0, 1.0, 240.0)):
        run = cooked(make_run, core_highest_c=core_c, core_after_chill_c=chilled_c, hold_s=held_s)
        sheet, found = learned_sheet([run])
        kept = {"pan", "fridge", "warmer"}
        assert [s for s in sheet.stage if s.id in kept] == [
            s for s in run.sheet.stage if s.id in kept
        ]
        assert kept.isdisjoint(p.stage for p in found)


def dipped(make_run, name, thickness_mm, **more):
    """A run whose coats were judged one by one."""
    findings = tuple(
        Finding(
            key="coat.thickness_mm",
            check="",
            stage="coat",
            verdict="undecided",
            piece=k,
            value=mm,
            expanded_uncertainty=0.04,
            unit="mm",
        )
        for k, mm in enumerate(thickness_mm, 1)
    )
    changed = {
        "coat_mm": sum(thickness_mm) / len(thickness_mm),
        "coat_thinnest_mm": min(thickness_mm),
        "coat_thickest_mm": max(thickness_mm),
    }
    return make_run(name, seed=7, findings=findings, changed=changed, **more)


def test_a_limit_of_each_piece_is_learned_from_pieces_and_not_from_their_means(make_run):
    """Means of 0.6 mm in all runs; pieces from 0.42 to 0.83 mm: a band of means would refuse most
    of what worked."""
    runs = [
        dipped(make_run, f"d{i}", (0.42 + 0.01 * i, 0.55, 0.83 - 0.01 * i), outcome="accepted")
        for i in range(4)
    ]
    band = proposal(learned_sheet(runs)[1], "thickness_mm", "coat").band
    assert band.low <= 0.42 - 0.04
    assert band.high >= 0.83 + 0.04


def test_a_learned_sheet_accepts_the_runs_it_was_learned_from(make_run):
    """Whatever was judged in them is met by the learned bands, piece by piece."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        runs = [
            dipped(make_run, f"d{i}", tuple(rng.normal(0.6, 0.12, 6)), outcome="accepted")
            for i in range(int(rng.integers(1, 5)))
        ]
        sheet, _ = learned_sheet(runs)
        band = next(s for s in sheet.stage if s.id == "coat").thickness_mm
        for run in runs:
            for one in run.findings:
                verdict, says = judge(one.value, one.expanded_uncertainty / 2, band, "guarded")
                assert verdict == "met", says


def test_a_sheet_learned_from_a_virtual_batch_accepts_that_batch():
    """All that the engine judged in it, of every stage but those whose limits are kept."""
    one = portrait(judged(50_000, (), short=True)[0])
    sheet, found = learned_sheet([one])
    stages = {s.id: s for s in sheet.stage}
    asked = 0
    for finding in one.findings:
        proposed = [
            p
            for p in found
            if p.stage == finding.stage
            and finding.key in (f"{stages[p.stage].kind}.{p.key}", CHECK_OF.get(p.key))
        ]
        for p in proposed:
            if finding.value is not None and finding.expanded_uncertainty is not None:
                u = finding.expanded_uncertainty / 2
                assert judge(finding.value, u, p.band, "guarded")[0] == "met", (finding, p.band)
                asked += 1
    assert asked >= 10


CHECK_OF = {
    "rate_g_min": "emulsify.pour_rate_g_min",
    "mass_g": "emulsify.poured_g",
    "pickup_g": "coat.mass_g",
}
