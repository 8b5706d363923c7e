"""Times as they are written: on clocks, in sentences, rounded, as ages."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from logger.words.digits import fixed
from logger.words.durations import (
    UNKNOWN,
    about,
    about_span,
    age_text,
    clock,
    clock_span,
    duration_span,
    duration_text,
    exact_duration,
)

NAN, INF = float("nan"), float("inf")
SCRIPT = Path(__file__).resolve().parents[2] / "dashboard" / "assets" / "ages.js"


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (482.0, "8:02"), (4086.0, "1:08:06"), (0.0, "0:00"), (59.4, "0:59"), (59.6, "1:00"),
        (3599.4, "59:59"), (3599.7, "1:00:00"), (-5.0, "−0:05"), (-0.4, "0:00"), (-0.0, "0:00"),
        (360000.0, "100:00:00"), (None, "–"), (NAN, "–"), (INF, "–"),
    ],
)  # fmt: skip
def test_a_clock_counts_minutes_and_from_an_hour_on_hours(time_s, text):
    assert clock(time_s) == text


def test_a_stretch_of_the_run_is_two_clocks_or_one():
    assert clock_span(1600.0, 1608.0) == "26:40 to 26:48"
    assert clock_span(1600.0, 1600.2) == clock_span(1600.0, None) == "26:40"
    assert clock_span(None, None) == ""


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (482.0, "8 min 2 s"), (4086.0, "1 h 8 min"), (42.4, "42 s"),
        (0.0, "0 s"), (-0.2, "−0.2 s"), (-0.02, "0 s"),
        (2.44, "2.4 s"), (9.96, "10 s"),
        (59.4, "59 s"), (59.6, "1 min"), (60.0, "1 min"), (119.7, "2 min"), (480.0, "8 min"),
        (3599.4, "59 min 59 s"), (3599.7, "1 h"), (3600.0, "1 h"), (14380.0, "4 h"),
        (-482.0, "−8 min 2 s"), (1e6, "277 h 47 min"), (None, UNKNOWN), (NAN, UNKNOWN),
        (INF, UNKNOWN),
    ],
)  # fmt: skip
def test_a_duration_in_a_sentence_has_no_decimal_minutes(time_s, text):
    assert duration_text(time_s) == text


@pytest.mark.parametrize(
    ("time_s", "u_s", "text"),
    [
        (12.34, 0.4, "12.3 ± 0.4 s"), (12.34, 0.0996, "12.34 ± 0.10 s"), (42.0, 1.95, "42 ± 2 s"),
        (483.2, 3.0, "8 min 3 s ± 3 s"), (483.2, 0.3, "8 min 3.2 s ± 0.3 s"),
        (480.0, 4.2, "8 min ± 4 s"), (59.96, 0.4, "1 min 0.0 s ± 0.4 s"),
        (1745.0, 120.0, "29 ± 2 min"), (1748.0, 71.0, "29 min 10 s ± 1 min 10 s"),
        (4086.0, 3.0, "1 h 8 min 6 s ± 3 s"), (4086.0, 180.0, "1 h 8 min ± 3 min"),
        (480.0, 59.7, "8 ± 1 min"), (480.0, 0.0, "8 min"), (480.0, NAN, "8 min"),
        (480.0, INF, "8 min"), (480.0, None, "8 min"),
    ],
)  # fmt: skip
def test_an_uncertain_duration_goes_to_the_place_of_its_uncertainty(time_s, u_s, text):
    assert duration_text(time_s, u_s) == text


def test_a_set_duration_keeps_its_seconds():
    assert exact_duration(4086.0) == "1 h 8 min 6 s"
    assert exact_duration(None) == UNKNOWN


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (7.4, "7 s"), (41.0, "40 s"), (59.0, "1 min"), (83.0, "1 min 25 s"), (179.0, "3 min"),
        (234.0, "4 min"), (3580.0, "1 h"), (4086.0, "1 h 10 min"), (40000.0, "11 h"),
        (-234.0, "−4 min"), (None, UNKNOWN), (NAN, UNKNOWN), (INF, UNKNOWN),
    ],
)  # fmt: skip
def test_a_rounded_time_says_what_matters(time_s, text):
    assert about(time_s) == text


@pytest.mark.parametrize(
    ("early_s", "late_s", "text"),
    [
        (385.0, 491.0, "6 to 9 min"), (12.3, 17.2, "12 to 18 s"), (0.0, 290.0, "0 to 5 min"),
        (40.0, 290.0, "40 s to 5 min"), (70.0, 290.0, "1 to 5 min"), (360.0, 360.0, "6 min"),
        (3500.0, 4000.0, "55 min to 1 h 10 min"), (1.0, INF, UNKNOWN),
    ],
)  # fmt: skip
def test_a_time_between_two_is_widened_to_round_numbers(early_s, late_s, text):
    assert about_span(early_s, late_s) == text


def test_a_span_writes_a_unit_once_where_it_is_one():
    assert duration_span(480.0, 600.0) == "8 to 10 min"
    assert duration_span(450.0, 600.0) == "7 min 30 s to 10 min"
    assert duration_span(30.0, 120.0) == "30 s to 2 min"


AGES = [
    (None, "no sample"), (0.0, "now"), (0.99, "now"), (1.0, "1 s ago"), (12.5, "13 s ago"),
    (119.4, "119 s ago"), (119.5, "2 min ago"), (234.0, "4 min ago"), (3569.0, "59 min ago"),
    (3570.0, "1 h ago"), (4086.0, "1 h 8 min ago"), (-1.0, "now"),
]  # fmt: skip


@pytest.mark.parametrize(("age_s", "text"), AGES)
def test_an_age_is_rounded_to_what_matters(age_s, text):
    assert age_text(age_s) == text


@pytest.mark.skipif(shutil.which("node") is None, reason="needs node to run the browser's script")
def test_the_browser_writes_ages_as_this_room_does():
    ages = [age for age, _ in AGES] + [step * 7.3 for step in range(2000)]
    program = (
        f"{SCRIPT.read_text(encoding='utf-8')}\n"
        f"console.log(JSON.stringify({json.dumps(ages)}.map(globalThis.bainlogWords.ageText)));"
    )
    done = subprocess.run(["node", "-e", program], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == [age_text(age) for age in ages]


@pytest.mark.skipif(shutil.which("node") is None, reason="needs node to run the browser's script")
def test_the_browser_writes_a_clock_as_this_room_does_and_reads_it_again():
    times = [0.0, 0.5, 1.5, 59.4, 59.5, 60.0, 3599.5, 3600.0, 86_400.0]
    times += [step * 7.3 for step in range(2000)]
    program = (
        f"{SCRIPT.read_text(encoding='utf-8')}\nconst w = globalThis.bainlogWords;"
        f"console.log(JSON.stringify({json.dumps(times)}.map(w.clockText)"
        ".map((text) => [text, w.clockSeconds(text)])));"
        "console.log(JSON.stringify(['soon', '12', '', '1:2', '12:4x'].map(w.clockSeconds)));"
    )
    done = subprocess.run(["node", "-e", program], capture_output=True, text=True, check=True)
    written, wrong = (json.loads(line) for line in done.stdout.splitlines())
    assert [text for text, _ in written] == [clock(t_s) for t_s in times]
    assert [t_s for _, t_s in written] == [round(t_s) for t_s in times]
    assert wrong == [None] * 5


@pytest.mark.skipif(shutil.which("node") is None, reason="needs node to run the browser's script")
def test_the_browser_writes_fixed_decimals_as_this_room_does():
    asked = [(value, places) for value in (0.0, -0.04, -12.6, 60.0, 99.26) for places in (0, 1)]
    program = (
        f"{SCRIPT.read_text(encoding='utf-8')}\nconst w = globalThis.bainlogWords;"
        f"console.log(JSON.stringify({json.dumps(asked)}.map((a) => w.fixedText(...a))));"
    )
    done = subprocess.run(["node", "-e", program], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == [fixed(value, places) for value, places in asked]
