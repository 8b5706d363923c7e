"""What nobody said of a value is nothing: no flag, nought, nothing known; but for these."""

from tests.plain_defaults import said_by_default


def test_what_is_not_said_of_a_value_is_nothing():
    said = dict(said_by_default("logger.correct"))
    slope, share = said.pop("Line.slope"), said.pop("Limited.share")
    assert (slope, share) == (1.0, 1.0)  # as read, and the whole limit
    assert set(said.values()) == {"normal"}
