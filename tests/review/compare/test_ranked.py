"""Differences are ranked by what good batches scatter anyway."""

import pytest

from logger.review.compare.compare import compare, outcome_effects
from logger.review.compare.ranked import ranked


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
    rows = {row.name: row for row in outcome_effects([*bad, *good])}
    assert rows["water_at_pour_c"].effect.says == "lower"
    assert rows["water_at_pour_c"].effect.high < 0.0
    assert "accepted" not in rows
    assert outcome_effects(good) == ()
