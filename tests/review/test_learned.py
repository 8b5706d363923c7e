"""A sheet from runs proposes what worked and says how many runs stand behind it."""

import pytest

from logger.model.errors import OutOfRangeError
from logger.model.files import sheet_from_text
from logger.review.learned import learned_sheet
from logger.review.sheet_text import sheet_as_toml
from logger.watch.checks import judge


def proposal(found, key, stage):
    return next(p for p in found if p.key == key and p.stage == stage)


def test_targets_come_from_the_good_runs_with_their_number(good_runs):
    sheet, found = learned_sheet(good_runs)
    fat = proposal(found, "fat_c", "warm")
    assert fat.runs == 8
    assert 48.0 < fat.band.low < 52.0 < 54.0 < fat.band.high < 58.0
    assert fat.band.source == "proposed from 8 good runs"
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
    assert "proposed from 8 good runs" in text
    assert sheet_from_text(text, "learned") == sheet


def test_without_a_run_there_is_nothing_to_learn():
    with pytest.raises(OutOfRangeError):
        learned_sheet([])
