"""Days and times of the wall are written one way, whatever the settings of the machine."""

import pytest

from logger.words.dates import date_text, day_text, moment_text, time_text


def test_a_moment_is_written_in_each_length():
    iso = "2025-09-03T09:14:00+02:00"  # a Wednesday
    assert moment_text(iso) == "3 Sep 2025, 09:14"
    assert day_text(iso) == "Wed 3 Sep"
    assert date_text(iso) == "3 Sep 2025"
    assert time_text(iso) == "09:14"


@pytest.mark.parametrize("text", ["", "yesterday"])
def test_what_is_no_moment_stays_as_it_is(text):
    assert moment_text(text) == day_text(text) == date_text(text) == time_text(text) == text
