"""A trace thinned out for drawing hides no peak and counts every reading."""

import itertools
from collections.abc import Iterator

import numpy as np
import pytest

from logger.store.run.runfile import RunView, RunWriter, StoredReading, WriteBatch

S = 1_000_000_000
COUNT = 60_000


@pytest.fixture(scope="module")
def values() -> np.ndarray:
    random = np.random.default_rng(7)
    found = np.round(45 + np.cumsum(random.normal(0, 0.02, COUNT)), 2)
    found[random.integers(0, COUNT, 900)] = np.nan
    found[10_000:10_300] = np.nan
    found[33_333] = 99.99
    found[44_444] = -9.99
    return found


@pytest.fixture(
    scope="module", params=["tail", "long blocks", "short blocks", "blocks and tail", "ended"]
)
def view(request, tmp_path_factory, run_header, values) -> Iterator[RunView]:
    """60 000 readings at 10 Hz in five states of compaction."""
    run_path = tmp_path_factory.mktemp("overview") / "20261125-0913-a3f2.run"
    writer = RunWriter.create(run_path, run_header())
    for start in range(0, COUNT, 1500):
        rows = [
            StoredReading("fat", n * S // 10, None if v != v else v)
            for n, v in enumerate(values[start : start + 1500].tolist(), start)
        ]
        writer.write(WriteBatch(readings=rows))
        if request.param in ("short blocks", "ended"):
            writer.compact(force=True)
        if request.param == "blocks and tail" and start == 39_000:
            writer.compact(force=True)
    if request.param == "long blocks":
        writer.compact(force=True)
    if request.param == "ended":
        writer.finish(None, 1)
    yield RunView.open(run_path)
    writer.close()


@pytest.mark.parametrize("points", [1, 3, 14, 100, 234, 1000, 3750, 20_000, 60_000, 100_000])
def test_every_reading_is_counted_and_no_peak_is_lost(view, values, points):
    found = view.overview("fat", points=points)
    assert len(found) <= points + 1
    assert found.n.sum() == (~np.isnan(values)).sum()
    assert found.n_bad.sum() == np.isnan(values).sum()
    assert np.nanmax(found.high) == 99.99
    assert np.nanmin(found.low) == -9.99
    assert found.exact == (points >= COUNT)
    assert np.nansum(found.mean * found.n) == pytest.approx(np.nansum(values), abs=1e-6)
    assert (np.diff(found.t_ns) > 0).all()
    assert np.isnan(found.mean).tolist() == (found.n == 0).tolist()
    known = found.n > 0
    assert (found.low[known] <= found.mean[known]).all()
    assert (found.mean[known] <= found.high[known]).all()


def test_each_bin_is_what_its_readings_say(view, values):
    found = view.overview("fat", points=300)
    edges = np.append(found.t_ns, (COUNT + 1) * S) // (S // 10)
    for n, (start, end) in enumerate(itertools.pairwise(edges)):
        part = values[start:end]
        good = part[~np.isnan(part)]
        assert found.n[n] == len(good)
        if len(good):
            assert found.low[n] == good.min()
            assert found.high[n] == good.max()
            assert found.mean[n] == pytest.approx(good.mean(), abs=1e-9)


def test_few_readings_are_given_one_by_one(view, values):
    found = view.overview("fat", 1000 * S, 1009 * S, points=100)
    assert found.exact
    assert found.t_ns.tolist() == [n * S // 10 for n in range(10_000, 10_091)]
    assert np.array_equal(found.mean, values[10_000:10_091], equal_nan=True)


@pytest.mark.parametrize("points", [5, 50, 500])
def test_a_window_has_all_its_readings_and_little_more(view, values, points):
    low, high = 2000 * S, 5000 * S
    found = view.overview("fat", low, high, points=points)
    inside = values[20_000:50_001]
    total = int(found.n.sum() + found.n_bad.sum())
    assert len(inside) <= total <= len(inside) + 2 * 4096
    assert np.nanmax(found.high) >= np.nanmax(inside)
    assert np.nanmin(found.low) <= np.nanmin(inside)
    assert len(found) <= points + 1


def test_an_empty_channel_has_an_empty_overview(view):
    found = view.overview("bath")
    assert len(found) == 0
    assert found.exact


def test_no_points_are_refused(view):
    with pytest.raises(ValueError, match="wanted at least 1"):
        view.overview("fat", points=0)


def test_a_growing_trace_keeps_its_bins(writer, run_path):
    """The bins of a longer trace are those of the shorter one, but for the last."""
    rows = [StoredReading("fat", n * S // 10, n % 100 / 4) for n in range(9000)]
    writer.write(WriteBatch(readings=rows[:8500]))
    before = RunView.open(run_path).overview("fat", points=300)
    writer.write(WriteBatch(readings=rows[8500:]))
    after = RunView.open(run_path).overview("fat", points=300)
    assert after.t_ns[: len(before)].tolist() == before.t_ns.tolist()
    assert after.high[: len(before) - 1].tolist() == before.high[:-1].tolist()
