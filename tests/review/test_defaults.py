"""What nobody said of a value is nothing: no flag, nought, nothing known; but for these."""

from tests.plain_defaults import said_by_default


def test_what_is_not_said_of_a_value_is_nothing():
    said = dict(said_by_default("logger.review"))
    assert tuple(said.pop("Feature.span")) == (None, None, None)
    assert said == {
        "Drawn.role": "other",
        "Cause.proven": True,
        "Cause.known": True,
        "Sign.direction": "high",
    }
