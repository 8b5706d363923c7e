"""Checks: the verdict and the sentence that gives its evidence."""

import math

import pytest

from logger.model.written import Band
from logger.watch.verdict import checks

WARM = Band(low=44.0, high=58.0, unit="degC")
CORE = Band(low=63.0, unit="degC")


@pytest.mark.parametrize(
    ("value", "u", "verdict", "evidence"),
    [
        (46.1, 0.3, "met", "46.1 ± 0.6 °C lies in 44 to 58 °C"),
        (43.0, 0.3, "not met", "43.0 ± 0.6 °C lies below 44 °C"),
        (59.0, 0.3, "not met", "59.0 ± 0.6 °C lies above 58 °C"),
        (
            44.2,
            0.3,
            "undecided",
            "44.2 ± 0.6 °C is too near the limit of 44 °C to tell whether it lies below it",
        ),
        (
            57.9,
            0.3,
            "undecided",
            "57.9 ± 0.6 °C is too near the limit of 58 °C to tell whether it lies above it",
        ),
    ],
)
def test_a_value_against_a_band_gives_verdict_and_sentence(value, u, verdict, evidence):
    assert checks.judge(value, u, WARM, "guarded") == (verdict, evidence)


def test_the_guard_band_of_a_core_limit_of_63_degc_starts_at_its_expanded_uncertainty():
    """Acceptance limit TL + U for a lower limit (ILAC-G8:09/2019): 63 + 2 x 0.4675 = 63.935."""
    assert checks.judge(63.94, 0.4675, CORE, "guarded")[0] == "met"
    assert checks.judge(63.93, 0.4675, CORE, "guarded")[0] == "undecided"
    assert checks.judge(63.93, 0.4675, CORE, "guarded 5 %")[0] == "met"
    assert checks.judge(63.01, 0.4675, CORE, "simple")[0] == "met"


def test_no_data_is_not_measured_and_says_why():
    verdict, evidence = checks.judge(None, 0.3, WARM, "guarded", why_missing="no fat probe")
    assert verdict == "not measured"
    assert evidence == "no fat probe, so 44 to 58 °C was not checked"
    assert checks.judge(math.nan, 0.3, WARM, "guarded")[0] == "not measured"


@pytest.mark.parametrize("value", [-20.0, 50.0, 100.0])
def test_an_unknown_uncertainty_never_gives_a_verdict(value):
    verdict, evidence = checks.judge(value, math.nan, WARM, "simple")
    assert verdict == "undecided"
    assert "uncertainty is unknown" in evidence


def test_a_value_without_a_target_is_recorded_and_not_judged():
    verdict, evidence = checks.judge(4.25, 0.1, None, "guarded", unit="degC")
    assert (verdict, evidence) == (
        "undecided",
        "4.2 ± 0.2 °C recorded; the sheet sets no limit",
    )


def test_durations_are_written_in_minutes():
    dwell = Band(low=420.0, high=600.0, unit="s")
    verdict, evidence = checks.judge(483.0, 0.5, dwell, "guarded")
    assert (verdict, evidence) == ("met", "8 min 3 s ± 1.0 s lies in 7 min to 10 min")


@pytest.mark.parametrize(
    ("value", "unit", "u_expanded", "text"),
    [
        (46.13, "degC", 0.62, "46.1 ± 0.6 °C"),
        (46.13, "degC", 0.124, "46.13 ± 0.12 °C"),
        (46.13, "degC", None, "46.1 °C"),
        (-0.04, "degC", 0.5, "0.0 ± 0.5 °C"),
        (1234.5, "g", 23.0, "1234 ± 23 g"),
        (90.0, "s", None, "90 s"),
        (7380.0, "s", None, "2 h 3 min"),
        (98.0, "%", math.nan, "98.00 %"),
    ],
)
def test_a_value_is_shown_with_the_digits_its_uncertainty_allows(value, unit, u_expanded, text):
    assert checks.shown(value, unit, u_expanded) == text


def test_a_finding_carries_limits_window_rule_and_expanded_uncertainty(make_context):
    found = checks.finding(
        make_context("warm"),
        "fat temperature",
        46.1,
        "degC",
        0.3,
        WARM,
        10_000_000_000,
        20_000_000_000,
        "fat",
    )
    assert found.verdict == "met"
    assert (found.stage, found.channel, found.rule) == ("warm", "fat", "guarded")
    assert (found.low, found.high, found.expanded_uncertainty) == (44.0, 58.0, 0.6)
    assert (found.from_s, found.to_s) == (10.0, 20.0)


def test_a_finding_without_data_has_no_value_and_no_uncertainty(make_context):
    found = checks.finding(
        make_context("warm"), "fat temperature", None, "degC", 0.3, WARM, None, None
    )
    assert (found.verdict, found.value, found.expanded_uncertainty) == ("not measured", None, None)


def test_a_number_on_its_way_up_is_undecided_until_it_is_there(make_context):
    hour = Band(low=3600.0, high=7200.0, unit="s")
    verdicts = [
        checks.progress(make_context("warm"), "Time", value, "s", 0.0, hour).verdict
        for value in (10.0, 3600.0, 7300.0, None)
    ]
    assert verdicts == ["undecided", "met", "not met", "not measured"]
