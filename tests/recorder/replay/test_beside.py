"""Traces without the probe's lag are kept when a run ends, beside the readings; replay agrees."""

import dataclasses
import json

import numpy as np
import pytest

from logger.model.errors import StoreError
from logger.recorder.replay import beside
from logger.recorder.replay.intake import take_in
from logger.recorder.replay.recovery import close_interrupted
from logger.recorder.replay.replay import replay
from logger.recorder.replay.shown import shown
from logger.review.trace import corrected, correcting
from logger.science.fats.fatfile import builtin_fats
from logger.store.exchange.exporting import export
from logger.store.exchange.importing import read_csv
from logger.store.exchange.restoring import restore
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter

FATS = builtin_fats()
SHEET = '[sheet]\nname = "Warm only"\n[[stage]]\nid = "warm"\nkind = "hydrate"\n'
TAU_S = 8.0
BENCH = """
[[instrument]]
id = "probes"
port = "none"
shape = "none"
""" + "".join(
    f"""
[[channel]]
id = "{name}"
instrument = "probes"
field = "{name}"
role = "{name}"
resolution = 0.01
repeatability = 0.01
sensor = {{ kind = "rtd", accuracy = "0.1 K"{stated} }}
{lag}
"""
    for name, stated, lag in (
        ("fat", "", 'lag = { time_constant = "8 s", checked = 2026-11-02, by = "plunge" }'),
        ("water", ', time_constant = "8 s"', ""),
        ("bath", ', time_constant = "8 s"', ""),
        ("core", "", ""),
    )
)
T_S = np.arange(600) * 0.5
RAMP_C = 20.0 + 0.2 * T_S
LAGGING_C = RAMP_C - 0.2 * TAU_S * (1.0 - np.exp(-T_S / TAU_S))


@pytest.fixture(scope="module")
def imported(tmp_path_factory):
    """A run in which fat, water and core trail a ramp by 1.6 K and the bath stands still."""
    place = tmp_path_factory.mktemp("beside")
    rows = [
        f"{t},{c:.2f},{c:.2f},19.5,{c:.2f}" for t, c in zip(T_S, LAGGING_C, strict=True)
    ]  # fmt: skip
    head = "time_s,fat [degC],water [degC],bath [degC],core [degC]"
    (place / "run.csv").write_text("\n".join([head, *rows]) + "\n")
    folder = DataFolder(place / "data")
    run_id = take_in(
        folder, read_csv(place / "run.csv", None), sheet_text=SHEET, sheet_name="s",
        bench_text=BENCH, fats=FATS,
    )  # fmt: skip
    return folder, run_id


def test_only_where_the_time_constant_is_known_and_it_pays(imported):
    folder, run_id = imported
    with folder.view(run_id) as view:
        rows = {r.channel: r for r in view.results().derived}
        assert set(rows) == {"fat", "water"}
        assert view.without_lag("bath") is None
        assert view.without_lag("core") is None
        found = view.without_lag("fat")
        shown_c = corrected(view, "fat").value
    assert rows["fat"].kind == "without lag"
    assert (rows["fat"].time_constant_s, rows["fat"].source) == (8.0, "plunge, 2026-11-02")
    assert rows["water"].source == "bench file"
    settled = slice(100, -40)
    assert found[settled] == pytest.approx(RAMP_C[settled], abs=0.03)
    assert shown_c == pytest.approx(LAGGING_C, abs=0.006)  # the readings are what they were


def test_a_replay_gives_the_same(imported):
    folder, run_id = imported
    with folder.view(run_id) as view:
        assert replay(view, FATS).derived == view.results().derived != []


def test_what_is_shown_names_it_without_its_values(imported):
    folder, run_id = imported
    with folder.view(run_id) as view:
        rows = shown(view, FATS)["derived"]
    assert [r["channel"] for r in rows] == ["fat", "water"]
    assert all("block" not in r and r["largest_k"] == pytest.approx(1.6, abs=0.1) for r in rows)


def test_an_export_carries_what_was_stored_and_gives_it_back(imported, tmp_path):
    folder, run_id = imported
    with folder.view(run_id) as view:
        export(view, "json", tmp_path / "beside.json", correcting(view))
        stored, derived = view.without_lag("fat"), view.results().derived
    readings = json.loads((tmp_path / "beside.json").read_text())["readings"]
    column = np.array([np.nan if v is None else v for v in readings["fat"]["without_lag"]])
    assert np.array_equal(column, stored, equal_nan=True)
    again = DataFolder(tmp_path / "again")
    with again.view(restore(again, tmp_path / "beside.json").run_id) as view:
        assert view.results().derived == derived
        assert np.array_equal(view.without_lag("fat"), stored, equal_nan=True)


def test_a_run_that_has_none_stored_gets_the_same_when_it_is_exported(imported, tmp_path):
    """As in a file of before this was kept."""
    folder, run_id = imported
    path = tmp_path / "old.run"
    path.write_bytes(folder.run_path(run_id).read_bytes())
    with RunView.open(path) as view:
        stored, results = view.without_lag("fat"), view.results()
    with RunWriter.reopen(path) as file:
        file.set_results(dataclasses.replace(results, derived=[]))
    with RunView.open(path) as view:
        assert view.without_lag("fat") is None
        _, _, found, _ = correcting(view)("fat", view.readings("fat"))
    assert np.array_equal(found, stored, equal_nan=True)


class Kept:
    """A run, as it is but for what is stored without lag."""

    def __init__(self, view, kept):
        self._view, self._kept = view, kept

    def __getattr__(self, name):
        return getattr(self._view, name)

    def without_lag(self, _channel_id):
        return self._kept


def test_what_was_stored_goes_out_unless_it_is_of_another_length(imported):
    folder, run_id = imported
    with folder.view(run_id) as view:
        series, stored = view.readings("fat"), view.without_lag("fat")
        for kept, out in ((stored + 1.0, stored + 1.0), (stored[:-1], stored), (None, stored)):
            _, _, found, _ = correcting(Kept(view, kept))("fat", series)
            assert np.array_equal(found, out, equal_nan=True)


def test_an_interrupted_run_has_it_too(imported, tmp_path):
    folder, run_id = imported
    path = tmp_path / "cut.run"
    with RunView.open(folder.run_path(run_id)) as view:
        derived = view.results().derived
    path.write_bytes(folder.run_path(run_id).read_bytes())
    close_interrupted(path, FATS)
    with RunView.open(path) as view:
        assert view.results().derived == derived


def test_where_it_cannot_be_worked_out_the_run_ends_all_the_same(tmp_path, monkeypatch, caplog):
    def broken(*_):
        raise StoreError("damaged")

    monkeypatch.setattr(beside, "derived", broken)
    assert beside.derived_at_end(tmp_path / "none.run") == []
    assert "no traces without lag" in caplog.text


def test_a_damaged_series_is_told(imported, tmp_path):
    folder, run_id = imported
    path = tmp_path / "bad.run"
    path.write_bytes(folder.run_path(run_id).read_bytes())
    with RunView.open(path) as view:
        results = view.results()
    row = results.derived[0]
    bad = row.block[:-8] + ("AAAAAAA=" if not row.block.endswith("AAAAAAA=") else "BBBBBBB=")
    with RunWriter.reopen(path) as file:
        file.set_results(
            dataclasses.replace(
                results, derived=[dataclasses.replace(row, block=bad), *results.derived[1:]]
            )
        )
    with RunView.open(path) as view, pytest.raises(StoreError, match="a derived series is damaged"):
        view.without_lag("fat")
