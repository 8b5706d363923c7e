"""Numbers over runs: limits from the good ones, the run that is farthest out first."""

from dataclasses import dataclass

from logger.review.compare.overruns import charts_of


@dataclass
class Number:
    value: float
    label: str = "water temperature"
    unit: str = "degC"
    low: float | None = 44.0
    high: float | None = 54.0


def runs_of(*values):
    return [{} if value is None else {"water": Number(value)} for value in values]


def test_runs_outside_the_limits_of_the_good_ones_are_named_the_farthest_first():
    runs = runs_of(49.0, 50.0, 27.2, 49.5, None, 48.8, 60.0, 49.6)
    good = [True, True, False, True, True, True, False, True]
    (chart,) = charts_of(runs, good).values()
    assert chart.good == 5
    assert 47.0 < chart.limits.low < chart.limits.mean < chart.limits.high < 52.0
    assert chart.far == (2, 6)
    assert chart.values[4] is None
    assert (chart.low, chart.high) == (44.0, 54.0)


def test_the_number_with_the_farthest_run_comes_first():
    calm = {"salt": Number(5.0, "mass of salt", "g")}
    runs = [run | calm for run in runs_of(49.0, 50.0, 49.5, 48.8, 27.2)]
    runs[1] = runs[1] | {"salt": Number(5.1, "mass of salt", "g")}
    assert list(charts_of(runs, [True] * 4 + [False])) == ["water", "salt"]


def test_too_few_good_runs_or_numbers_that_are_all_alike_give_no_chart():
    assert charts_of(runs_of(49.0, 50.0, 49.5, 27.2), [True] * 3 + [False]) == {}
    assert charts_of(runs_of(*[49.0] * 6), [True] * 6) == {}
    assert charts_of([], []) == {}


def test_a_run_with_another_unit_has_no_value_in_the_chart():
    runs = runs_of(49.0, 50.0, 49.5, 48.8, 49.1)
    runs[0] = {"water": Number(300.0, unit="K")}
    (chart,) = charts_of(runs, [True] * 5).values()
    assert chart.values[0] is None
    assert chart.unit == "degC"
