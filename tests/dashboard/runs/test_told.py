"""A graph in words and as a table."""

import numpy as np
import pytest

from dashboard.measures import Measures
from dashboard.points import Points
from dashboard.runs.told import Told, at, draw_told, in_words, times_of
from tests.dashboard.pages import text_of

LINE = Points(
    np.array([0.0, 60.0, 120.0, 180.0, 240.0]), np.array([20.0, 50.0, np.nan, 44.0, 40.0])
)


def test_a_line_is_told_by_its_ends_and_its_extremes():
    said = in_words(Told("Fat", LINE, "degC"), Measures())
    assert said == "Fat: from 20.0 to 40.0 °C, lowest 20.0, highest 50.0."
    assert "68.0 to 104.0 °F" in in_words(Told("Fat", LINE, "degC"), Measures(temp="F"))


def test_a_value_between_two_samples_is_read_off_the_line():
    assert at(LINE, 30.0) == pytest.approx(35.0)
    assert at(LINE, 60.0) == pytest.approx(50.0)


@pytest.mark.parametrize("t_s", [-1.0, 90.0, 150.0, 241.0])
def test_where_the_line_breaks_or_is_not_there_is_no_value(t_s):
    assert at(LINE, t_s) is None


def test_the_table_has_round_times_and_a_dash_in_the_gap():
    assert times_of([Told("Fat", LINE, "degC")]) == [20.0 * k for k in range(13)]
    text = text_of(draw_told([Told("Fat", LINE, "degC")], Measures(), title="At round times"))
    assert "Fat (°C)" in text
    assert "0:20 30.0" in text
    assert "2:00 –" in text


def test_times_before_the_event_that_runs_are_aligned_at_are_told():
    line = Points(np.array([-120.0, 0.0, 120.0]), np.array([1.0, 2.0, 3.0]))
    assert times_of([Told("Fat", line, "degC")])[0] == -120.0


def test_lines_without_a_value_are_left_out():
    empty = Points(np.array([0.0]), np.array([np.nan]))
    assert draw_told([Told("Fat", empty, "degC")], Measures(), title="") == []
    assert draw_told([], Measures(), title="") == []
