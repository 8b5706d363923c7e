"""A long run is judged in pieces, and comes out as one that is judged at once."""

import pytest

from logger.recorder.replay import replay
from logger.recorder.replay.intake import take_in
from logger.science.fats.fatfile import builtin_fats
from logger.store.exchange.importing import read_csv
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView

SHEET = """
[sheet]
name = "Smoked beet and barley roll"

[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }
rule_set = "food_code_cooked"
"""
ROWS = "time_s,core [degC],room [degC]\n" + "".join(
    f"{10 * n},{4 + 60 * 0.995**n:.2f},{20 + n % 5 / 10:.1f}\n" for n in range(1500)
)


@pytest.mark.parametrize("at_once", [50, 333, 2_999])
def test_a_run_judged_in_pieces_comes_out_the_same(tmp_path, monkeypatch, at_once):
    folder, fats = DataFolder(tmp_path), builtin_fats()
    run_id = take_in(
        folder, read_csv(ROWS), sheet_text=SHEET, sheet_name="x", bench_text=None, fats=fats
    )
    with RunView.open(folder.run_path(run_id)) as view:
        whole = replay.replay(view, fats)
        monkeypatch.setattr(replay, "AT_ONCE", at_once)
        parts = replay.replay(view, fats)
    assert whole.findings
    assert parts == whole
