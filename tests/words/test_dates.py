"""Moments of the wall clock are written one way, whatever the settings of the machine."""

import pytest

from logger.words.dates import moment_text


def test_a_moment_is_written_with_its_day_and_its_clock_time():
    assert moment_text("2025-09-03T09:14:00+02:00") == "3 Sep 2025, 09:14"


@pytest.mark.parametrize("text", ["", "yesterday"])
def test_what_is_no_moment_stays_as_it_is(text):
    assert moment_text(text) == text
