"""Verdicts by name, and the sentences of evidence."""

import pytest

from logger.words.verdicts import evidence_text, missing_text, verdict_of, verdict_text


@pytest.mark.parametrize(
    ("verdict", "known", "text"),
    [
        ("met", {}, "met"),
        ("not met", {}, "not met"),
        ("undecided", {}, "too close to call"),
        ("undecided", {"has_target": False}, "for information"),
        ("undecided", {"u_known": False}, "uncertainty unknown"),
        ("no limit", {}, "for information"),
        ("not measured", {"has_target": False}, "not measured"),
        ("met", {"assumed": True}, "met (assumed)"),
    ],
)
def test_a_verdict_has_one_name(verdict, known, text):
    assert verdict_text(verdict, **known) == text


def test_only_what_is_judged_is_called_assumed():
    given = {"value": 50.0, "u_expanded": 4.0, "high": None, "assumed": True}
    assert verdict_of("met", low=44.0, **given) == "met (assumed)"
    assert verdict_of("undecided", low=49.0, **given) == "too close to call (assumed)"
    assert verdict_of("undecided", low=None, **given) == "for information"


@pytest.mark.parametrize(
    ("verdict", "value", "unit", "known", "text"),
    [
        ("met", 180.2, "g", {"u_expanded": 0.04, "low": 178.2, "high": 181.8},
         "180.20 ± 0.04 g (target 178.2 to 181.8 g)"),
        ("undecided", 103.0, "%", {"u_expanded": 31.0, "low": None, "high": 100.0, "side": "above"},
         "103 ± 31 %: too close to 100 % to call"),
        ("not met", 60.8, "degC", {"u_expanded": 0.6, "low": 63.0, "high": None},
         "60.8 ± 0.6 °C, below the target of at least 63 °C"),
        ("undecided", 1744.0, "s", {"u_expanded": None, "low": None, "high": None},
         "29 min 4 s; the sheet sets no limit"),
        ("undecided", 46.1, "degC", {"u_expanded": None, "low": 47.0, "high": 58.0,
                                     "why": "the uncertainty is unknown"},
         "46.1 °C (target 47 to 58 °C): no verdict, the uncertainty is unknown"),
    ],
)  # fmt: skip
def test_evidence_says_the_number_then_the_target(verdict, value, unit, known, text):
    assert evidence_text(verdict, value, unit, **known) == text


def test_what_is_missing_is_said_before_its_target():
    assert missing_text("no pour was seen", 60.0, 90.0, "g/min") == (
        "no pour was seen (target 60 to 90 g/min)"
    )
    assert missing_text("no data", None, None, "g") == "no data"
