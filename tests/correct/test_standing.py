"""How a check stands, in plain words."""

import datetime

import pytest

from tests.correct.sensors import CHECKED, TYPE_T, corrector


@pytest.mark.parametrize(
    ("days", "late", "says"),
    [
        (0, 0, "checked today"),
        (1, 0, "checked yesterday"),
        (90, 0, "checked 90 days ago"),
        (91, 1, "checked 91 days ago; check it in ice water"),
        (410, 320, "checked 410 days ago; check it in ice water"),
        (-3, 0, "its check has a date in the future; check the computer's date"),
    ],
)
def test_how_a_check_stands_is_said_in_plain_words(days: int, late: int, says: str):
    """Due after 90 days where the bench file does not say: common practice, no source."""
    correction = {"offset": "0.1 K", "checked": CHECKED, "by": "boiling point"}
    today = datetime.date(2026, 11, 2) + datetime.timedelta(days=days)
    standing = corrector(today, sensor=TYPE_T, correction=correction).standing
    assert (standing.ago_days, standing.overdue_days, standing.says) == (days, late, says)


def test_a_scale_is_checked_with_a_weight_and_one_never_checked_is_only_said_to_be_so():
    correction = {"offset_mass": "0.1 g", "checked": CHECKED, "by": "check weight"}
    late = corrector(
        datetime.date(2027, 11, 2), role="bath_scale", sensor=None, correction=correction
    )
    assert late.standing.says == "checked 365 days ago; check it with a check weight"
    never = corrector(sensor=TYPE_T).standing
    assert (never.checked, never.overdue_days, never.says) == (None, 0, "never checked")
