"""Lethality: the rows of the published table, and a ramp against its closed form."""

import csv
import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.model.errors import InputError, OutOfRangeError
from logger.science.heat import lethality
from logger.science.heat.cooling_rules import lethality_table, names

BEEF = lethality_table("fsis_1999_beef_6_5_log")
Z_K, D60_MIN = 5.56, 1.770


def published(fixtures):
    """Rows of FSIS Appendix A (1999): degF, seconds for 6.5 log and for 7 log."""
    with (fixtures / "published" / "fsis_appendix_a_1999.csv").open(encoding="utf-8") as lines:
        rows = csv.DictReader(line for line in lines if not line.startswith("#"))
        return [(float(r["temp_f"]), float(r["log_6_5_s"]), float(r["log_7_s"])) for r in rows]


def test_every_row_of_the_published_table_is_credited_its_reduction(fixtures):
    rows = published(fixtures)
    assert len(rows) == 28
    for temp_f, time_65_s, time_7_s in rows:
        temp_c = (temp_f - 32.0) / 1.8
        assert lethality.time_needed_s(BEEF, temp_c + 1e-9) == pytest.approx(time_65_s, rel=1e-6)
        seven = lethality_table("fsis_1999_beef_7_log")
        assert lethality.rate_log_s(seven, temp_c + 1e-9) * time_7_s == pytest.approx(7.0, rel=1e-6)


def test_the_rows_follow_a_z_of_5_56_k_within_their_rounding(fixtures):
    """With z = 5.56 K and D60 = 1.770 min the 6.5-log rows give 6.30 to 7.16 log (own fit)."""
    logs = [
        (s / 60.0 * 10 ** (((f - 32) / 1.8 - 60.0) / Z_K)) / D60_MIN
        for f, s, _ in published(fixtures)
    ]
    assert min(logs) == pytest.approx(6.30, abs=0.005)
    assert max(logs) == pytest.approx(7.16, abs=0.005)


def exact(z_k=Z_K, low_c=50.0, high_c=70.0):
    """A table that follows a z value exactly."""
    temps = tuple(low_c + 0.5 * k for k in range(int((high_c - low_c) * 2) + 1))
    return lethality.LethalityTable(
        key="exact", title="t", edition="e", family="f", organism="o", food="f", limits="l",
        log_reduction=6.5, temps_c=temps,
        times_s=tuple(6.5 * D60_MIN * 60 * 10 ** (-(t - 60.0) / z_k) for t in temps),
    )  # fmt: skip


def closed_form_log(from_c, to_c, k_per_min):
    """F = z / (ln 10 * r) * (10^((T1-60)/z) - 10^((T0-60)/z)) for a ramp, by hand."""
    minutes = Z_K / (math.log(10) * k_per_min)
    return minutes * (10 ** ((to_c - 60) / Z_K) - 10 ** ((from_c - 60) / Z_K)) / D60_MIN


@pytest.mark.parametrize("step_s", [0.1, 1.0, 5.0])
def test_credit_of_a_ramp_comes_close_to_the_closed_form_from_below(step_s):
    """Readings every 0.1 s at 1.5 K/min: short by less than 0.1 %; never more."""
    count = round(400 / step_s)
    temps = [55.0 + 1.5 / 60 * step_s * k for k in range(count + 1)]
    got = sum(lethality.credit_log(exact(), a, b, step_s) for a, b in pairwise(temps))
    wanted = closed_form_log(55.0, 65.0, 1.5)
    assert got <= wanted
    assert got == pytest.approx(wanted, rel=0.011 * step_s)


def test_nothing_is_credited_below_the_first_row():
    """54.4 degC in the table."""
    assert lethality.rate_log_s(BEEF, 54.4) == 0.0
    assert lethality.rate_log_s(BEEF, 54.45) > 0.0


def test_no_second_is_credited_more_than_the_last_row_with_a_time():
    """The table says 0 s from 158 degF on; a second there counts as one at 157 degF."""
    assert lethality.rate_log_s(BEEF, 90.0) == pytest.approx(6.5 / 14.0)


def test_an_unknown_temperature_is_credited_nothing():
    assert lethality.credit_log(BEEF, math.nan, 65.0, 10.0) == 0.0
    assert lethality.credit_log(BEEF, 65.0, math.nan, 10.0) == 0.0


@given(st.floats(40, 90), st.floats(0, 30))
def test_a_hotter_core_is_never_credited_less(temp_c, more_k):
    assert lethality.rate_log_s(BEEF, temp_c + more_k) >= lethality.rate_log_s(BEEF, temp_c)


def test_time_that_goes_back_is_refused():
    with pytest.raises(OutOfRangeError):
        lethality.credit_log(BEEF, 60.0, 60.0, -1.0)


def test_an_unknown_table_is_refused_with_those_there_are():
    with pytest.raises(InputError, match="fsis_1999_beef_7_log"):
        lethality_table("poultry")


@pytest.mark.parametrize("key", names("lethality"))
def test_every_table_names_its_food_organism_limits_and_edition(key):
    table = lethality_table(key)
    assert table.organism
    assert table.food
    assert table.limits
    assert table.edition in table.name
