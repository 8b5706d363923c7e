"""Differences are ranked by what good batches scatter anyway."""

import pytest

from logger.review.compare.compare import compare
from logger.review.compare.grouping import (
    LOT,
    OUTCOME,
    REVISION,
    grouped,
    grouped_by_day,
    middle_day,
)
from logger.review.compare.ranked import ranked
from logger.review.learn.sheets import template


def test_the_largest_difference_comes_first_in_multiples_of_the_scatter(make_run):
    """Good runs 47, 49 and 51 degC: their sample standard deviation is 2 K (worked by hand)."""
    good = [
        make_run(f"g{k}", changed={"water_at_pour_c": value})
        for k, value in enumerate((47.0, 49.0, 51.0))
    ]
    a = make_run("a", changed={"water_at_pour_c": 49.0, "rinse_s": 110.0})
    b = make_run("b", changed={"water_at_pour_c": 27.0, "rinse_s": 111.0})
    found = ranked(compare([a, b]).rows, good)
    assert found[0].row.name == "water_at_pour_c"
    assert found[0].scatter == pytest.approx(2.0)
    assert found[0].times == pytest.approx(11.0)
    assert found[0].good == (47.0, 49.0, 51.0)
    assert [one.times for one in found] == sorted((one.times for one in found), reverse=True)


def test_without_three_good_runs_the_ordinary_scatter_counts_and_never_less_than_the_doubt(
    make_run,
):
    a, b = (make_run(i, changed={"water_at_pour_c": v}) for i, v in (("a", 49.0), ("b", 52.0)))
    (one,) = [d for d in ranked(compare([a, b]).rows, []) if d.row.name == "water_at_pour_c"]
    least = one.scatter
    assert one.times == pytest.approx(3.0 / least)
    sure = {"water_at_pour_c": 4.0 * least}
    a, b = (
        make_run(i, changed={"water_at_pour_c": v}, u=sure) for i, v in (("a", 49.0), ("b", 52.0))
    )
    (one,) = [d for d in ranked(compare([a, b]).rows, []) if d.row.name == "water_at_pour_c"]
    assert one.scatter == pytest.approx(4.0 * least)


def test_a_number_that_the_first_run_lacks_is_not_ranked(make_run):
    a, b = make_run("a", without=("bath_c",)), make_run("b")
    assert "bath_c" not in {d.row.name for d in ranked(compare([a, b]).rows, [])}


def test_rejected_and_accepted_runs_are_two_groups(make_run):
    good = [make_run(f"g{k}", seed=k) for k in range(5)]
    bad = [
        make_run(f"b{k}", seed=9 + k, outcome="rejected", changed={"water_at_pour_c": 27.0 + k})
        for k in range(5)
    ]
    found = grouped([*bad, *good], OUTCOME)
    assert (found.first.name, found.second.name) == ("accepted", "rejected")
    rows = {row.name: row for row in found.effects}
    assert rows["water_at_pour_c"].effect.says == "lower"
    assert rows["water_at_pour_c"].effect.high < 0.0
    assert "accepted" not in rows
    assert grouped(good, OUTCOME) is None


def test_runs_are_grouped_by_the_lot_that_splits_them_best_and_by_revision(make_run):
    def text(fat, barley, revision):
        sheet = template()
        sheet = sheet.replace('lot = ""', f'lot = "{fat}"', 1)
        sheet = sheet.replace('substance = "binder"', f'substance = "binder"\nlot = "{barley}"', 1)
        return sheet.replace("revision = 1", f"revision = {revision}")

    runs = [
        make_run(
            f"r{k}", seed=k, text=text("F1" if k < 3 else "F2", "B1" if k else "B2", 1 + k // 4)
        )
        for k in range(6)
    ]
    found = grouped(runs, LOT)
    assert found.first.runs == ("r0", "r1", "r2")
    assert (found.first.name, found.second.name) == ("cocoa butter F1", "cocoa butter F2")
    assert {row.name for row in found.effects} >= {"accepted", "water_at_pour_c"}
    found = grouped(runs, REVISION)
    assert (found.first.name, found.second.name) == ("revision 1", "revision 2")
    assert found.second.runs == ("r4", "r5")
    assert grouped(runs[:1], LOT) is grouped(runs[:1], REVISION) is None


def test_runs_are_grouped_before_a_day_and_from_it_on_and_an_unknown_day_is_in_neither(make_run):
    changed = {"water_at_pour_c": 27.0}
    runs = [make_run(f"r{k}", seed=k, changed=changed if k > 4 else None) for k in range(11)]
    days = {f"r{k}": f"2025-09-{1 + k:02}" for k in range(10)}
    found = grouped_by_day(runs, days, "2025-09-06")
    assert (found.first.name, found.second.name) == ("before 6 Sep 2025", "from 6 Sep 2025 on")
    assert found.first.runs == ("r0", "r1", "r2", "r3", "r4")
    assert found.second.runs == ("r5", "r6", "r7", "r8", "r9")
    rows = {row.name: row for row in found.effects}
    assert rows["water_at_pour_c"].effect.high < 0.0
    assert grouped_by_day(runs, days, "2025-09-01") is None
    assert grouped_by_day(runs, days, "2025-09-11") is None


def test_the_day_that_splits_runs_most_evenly_is_offered_first():
    assert middle_day(["2025-09-03", "2025-09-01", "2025-09-02", "2025-09-02"]) == "2025-09-02"
    assert middle_day(["2025-09-01", "2025-09-01"]) == middle_day([]) == ""
