"""Checks: the verdict and the sentence that gives its evidence."""

import math

import pytest

from logger.model.written import Band
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured

WARM = Band(low=44.0, high=58.0, unit="degC")
CORE = Band(low=63.0, unit="degC")


@pytest.mark.parametrize(
    ("value", "u", "verdict", "evidence"),
    [
        (46.1, 0.3, "met", "46.1 ± 0.6 °C (target 44 to 58 °C)"),
        (43.0, 0.3, "not met", "43.0 ± 0.6 °C, below the target of 44 to 58 °C"),
        (59.0, 0.3, "not met", "59.0 ± 0.6 °C, above the target of 44 to 58 °C"),
        (
            44.2,
            0.3,
            "undecided",
            "44.2 ± 0.6 °C: too close to 44 °C to call",
        ),
        (
            57.9,
            0.3,
            "undecided",
            "57.9 ± 0.6 °C: too close to 58 °C to call",
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
    assert evidence == "no fat probe (target 44 to 58 °C)"
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
        "4.2 ± 0.2 °C; the sheet sets no limit",
    )


def test_durations_are_written_in_minutes():
    dwell = Band(low=420.0, high=600.0, unit="s")
    verdict, evidence = checks.judge(483.0, 0.5, dwell, "guarded")
    assert (verdict, evidence) == ("met", "8 min 3.0 s ± 1.0 s (target 7 to 10 min)")


def test_a_finding_carries_limits_window_rule_and_expanded_uncertainty(make_context):
    found = checks.finding(
        make_context("warm"),
        "heat.fat_c",
        Measured(value=46.1, u=0.3, from_ns=10_000_000_000, to_ns=20_000_000_000, channel="fat"),
        WARM,
    )
    assert (found.key, found.subject, found.check) == ("heat.fat_c", "", "fat temperature")
    assert found.verdict == "met"
    assert (found.stage, found.channel, found.rule) == ("warm", "fat", "guarded")
    assert (found.low, found.high, found.expanded_uncertainty) == (44.0, 58.0, 0.6)
    assert (found.from_s, found.to_s) == (10.0, 20.0)


def test_a_finding_without_data_has_no_value_and_no_uncertainty(make_context):
    found = checks.finding(make_context("warm"), "heat.fat_c", Measured(u=0.3), WARM)
    assert (found.verdict, found.value, found.expanded_uncertainty) == ("not measured", None, None)


def test_a_number_on_its_way_up_is_undecided_until_it_is_there(make_context):
    hour = Band(low=3600.0, high=7200.0, unit="s")
    verdicts = [
        checks.progress(make_context("warm"), "Time", value, "s", 0.0, hour).verdict
        for value in (10.0, 3600.0, 7300.0, None)
    ]
    assert verdicts == ["undecided", "met", "not met", "not measured"]
