"""One sentence for a run: the worst first, of several pieces the farthest, no more than is so."""

import pytest

from logger.model.finding import Finding
from logger.review.headline import (
    close_words,
    counted,
    groups,
    headline,
    said_of,
    standing,
)
from logger.words.shown import AsRecorded

HOW = AsRecorded()


def finding(verdict="met", value=50.0, *, piece=None, **more):
    given = {"key": "heat.fat_c", "check": "fat temperature", "stage": "warm", "unit": "degC",
             "low": 47.0, "high": 58.0, "expanded_uncertainty": 0.5}  # fmt: skip
    return Finding(**(given | {"verdict": verdict, "value": value, "piece": piece} | more))


@pytest.mark.parametrize(
    ("verdict", "low", "high", "stands"),
    [
        ("met", 47.0, None, "met"),
        ("met", None, 58.0, "met"),
        ("met", None, None, "for information"),
        ("undecided", 47.0, 58.0, "too close"),
        ("undecided", None, None, "for information"),
        ("not met", 47.0, 58.0, "not met"),
        ("not measured", 47.0, 58.0, "not measured"),
        ("not measured", None, None, "not measured"),
    ],
)
def test_a_check_stands_by_its_verdict_and_without_a_target_for_information(
    verdict, low, high, stands
):
    assert standing(finding(verdict, low=low, high=high)) == stands


def test_checks_are_counted_worst_first():
    found = [finding(), finding("not met"), finding(), finding("undecided")]
    assert list(counted(found).items()) == [("not met", 1), ("too close", 1), ("met", 2)]


def test_nothing_missed_is_said_with_what_is_open():
    assert headline([], HOW) == "Nothing was judged in this run."
    assert headline([finding(), finding()], HOW) == "No target missed: 2 checks met."
    mixed = [finding(), finding("undecided"), finding("not measured", None)]
    assert headline(mixed, HOW) == (
        "No target missed: 1 check met, 1 too close to call, 1 not measured."
    )
    assert headline([finding("undecided")], HOW) == (
        "No check could be called met: 1 too close to call."
    )
    assert headline([finding(low=None, high=None)], HOW) == (
        "No check could be called met: no target was set."
    )


@pytest.mark.parametrize(
    ("value", "unit", "way"),
    [(45.0, "degC", "too low"), (60.0, "degC", "too high"),
     (45.0, "s", "too short"), (60.0, "s", "too long")],
)  # fmt: skip
def test_what_was_missed_is_said_with_the_side(value, unit, way):
    (found,) = groups([finding("not met", value, unit=unit)], "not met")
    assert headline(list(found.findings), HOW).startswith(f"Fat temperature {way}: ")
    assert headline([finding("not met", None)], HOW) == "Fat temperature: not met."


def piece(number, verdict, value, **more):
    return finding(verdict, value, piece=number, key="coat.g", check="coat mass", unit="g",
                   low=5.0, high=12.0, **more)  # fmt: skip


def test_pieces_of_one_check_are_one_line_with_the_farthest_and_both_ends():
    found = [
        piece(1, "not met", 13.0, from_s=40.0, to_s=45.0),
        piece(2, "not met", 1.0, from_s=30.0, to_s=35.0, expanded_uncertainty=0.9),
        piece(3, "met", 8.0),
        piece(4, "not measured", None),
    ]
    (missed,) = groups(found, "not met")
    assert (missed.label, missed.among) == ("Coat mass, 2 of 3 pieces", 3)
    assert (missed.from_s, missed.to_s) == (30.0, 45.0)
    assert missed.value_text(HOW) == "1.0 to 13.0 g"
    assert missed.spread_text(HOW) == "± 0.9 g"
    said = headline(found, HOW)
    assert said == "Coat mass, 2 of 3 pieces too low: 1.0 to 13.0 g, target 5 to 12 g."
    (one,) = groups(found[:1], "not met")
    assert one.label == "Coat mass, piece 1"
    assert one.value_text(HOW) == "13.0 g"
    (same,) = groups([piece(1, "not met", 13.0), piece(2, "not met", 13.0)], "not met")
    assert same.value_text(HOW) == "13.0 g"
    (unmeasured,) = groups(found, "not measured")
    assert unmeasured.among == 3


def test_a_check_of_the_stage_and_of_its_pieces_are_two_lines():
    both = [finding("not met"), finding("not met", piece=1), finding("not met", stage="other")]
    assert [g.label for g in groups(both, "not met")] == [
        "Fat temperature", "Fat temperature, piece 1", "Fat temperature",
    ]  # fmt: skip


def test_a_spread_of_temperatures_is_in_kelvin_and_of_times_without_a_unit():
    (found,) = groups([finding()], "met")
    assert found.spread_text(HOW) == "± 0.5 K"
    (lasted,) = groups([finding(unit="s", expanded_uncertainty=4.0)], "met")
    assert lasted.spread_text(HOW) == HOW.spread(4.0, "s")
    (unknown,) = groups([finding(expanded_uncertainty=None)], "met")
    assert unknown.spread_text(HOW) == ""


def test_the_first_two_checks_that_are_too_close_are_named():
    close = [finding("undecided", 47.2, key=k, check=k) for k in ("a", "b", "c")]
    said = close_words(close, HOW)
    assert said == (
        "Too close to call: A: 47.2 °C, ± 0.5 K, target 47 to 58 °C. "
        "B: 47.2 °C, ± 0.5 K, target 47 to 58 °C."
    )
    assert close_words([finding()], HOW) == ""
    unknown = close_words([finding("undecided", expanded_uncertainty=None)], HOW)
    assert "uncertainty unknown" in unknown


def test_a_rejected_run_that_missed_nothing_says_so_and_a_missed_one_needs_no_lead():
    good, close = [finding()], [finding("undecided")]
    said = said_of(good, "rejected", None, HOW)
    assert (said.headline, said.lead) == ("Rejected.", "No target missed: 1 check met.")
    accepted = said_of([*good, *close], "accepted", None, HOW)
    assert accepted.headline.startswith("No target missed")
    assert accepted.lead.startswith("Too close to call")
    missed = said_of([finding("not met", 45.0), *close], "rejected", None, HOW)
    assert missed.headline.startswith("Fat temperature too low")
    assert (missed.lead, missed.next_time) == ("", "")
