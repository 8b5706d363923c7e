"""Quantities by their grammar: what is read, what is refused, and that neither costs anything."""

import math
import resource
import signal
import subprocess
import sys
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.quantity import _NAMES, LONGEST, convert, number_in, price_per_kg, unit_of

MOST_CPU_S = 0.05
"""Processor time for one text, at most [s]: a thousand times what it needs."""


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("3 mPa s", "Pa s", 0.003),
        ("3 mPa*s", "Pa s", 0.003),
        ("12 W/(m2 K)", "W/(m2 K)", 12.0),
        ("12 W/(m^2 K)", "W/(m2 K)", 12.0),
        ("12 W/(m**2*K)", "W/(m2 K)", 12.0),
        ("12 W m-2 K-1", "W/(m2 K)", 12.0),
        ("1.2 kW/(m2 degC)", "W/(m2 K)", 1200.0),
        ("42 °C", "degC", 42.0),
        ("42degC", "degC", 42.0),
        ("5.4 kg/h", "g/min", 90.0),
        ("50 %", "percent", 50.0),
        ("9.1e-10 m2/s", "m2/s", 9.1e-10),
        ("+.5 kg", "g", 500.0),
        # BIPM, SI Brochure (9th edition, 2019), section 2.3.1 and table 8: 0 °C = 273.15 K.
        ("273.15 K", "degC", 0.0),
        # NIST Handbook 44 (2024), Appendix C: 1 in = 25.4 mm, exact.
        ("1 in", "mm", 25.4),
        ("1 m3", "l", 1000.0),
    ],
)
def test_what_the_grammar_has_is_read(text, unit, number):
    assert number_in(text, unit) == pytest.approx(number, rel=1e-12, abs=1e-9 * abs(number))


ODD = {
    "degC": [
        "1 s degC/min", "5 K s/min", "5 degC2/degC", "5 degC g/g", "5 degC*percent", "5 % degC",
        "5 dimensionless degC", "5 (degC)", "5 degC^1", "5 W degC/W", "5 W s degC/J",
        "5 degC min/s", "5 delta_degC", "-300 degC", "-5 K", "-460 degF", "5 degC/min",
        "5 degC\n", "5\ndegC",
    ],
    "delta_degC": ["1 s degC/min", "5 K s/min", "5 degC2/degC", "5 K %", "5 W s K/J"],
    "g": ["5 % g", "5 g degC/degC", "5 g g/g", "5 g s/min", "5 g s Hz", "1e-400 g", "5 g**1 kg/kg"],
    "percent": ["5 g^0", "3 g-0", "5 deg", "5 rad", "5 degC/degC", "5 K/degC", "1 percent percent"],
    "dimensionless": ["5 g0", "3 rad", "5 deg", "5 degC/K", "4 Hz s"],
    "Hz": ["60 rpm"],
    "s": ["5 s g/kg", "5 min percent", "5 s^2/s", "5 min s/s"],
    "g/min": ["5 g degC/(degC min)", "5 g/min s/s", "5 % g/min", "5 g/s s/min"],
    "J/K": ["5 J/K degC/degC", "5 J s/(K min)"],
}  # fmt: skip
"""Arithmetic that comes out in the wanted unit, and is nothing that anybody measures."""


@pytest.mark.parametrize(("unit", "text"), [(u, t) for u, texts in ODD.items() for t in texts])
def test_arithmetic_that_only_comes_out_in_the_unit_is_refused(unit, text):
    with pytest.raises(ValueError, match=r"write for example|weigh it"):
        number_in(text, unit)


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("15 g/kg", "percent", 1.5), ("20 ml/l", "percent", 2.0), ("4.2 kJ/(kg K)", "J/(g K)", 4.2),
        ("4.2 kJ/(kg degC)", "J/(g K)", 4.2), ("5 degC", "delta_degC", 5.0), ("0e-400 g", "g", 0.0),
        ("5 kg m2/s2", "J", 5.0), ("5 J/m3", "Pa", 5.0), ("42\u202f°C", "degC", 42.0),
        ("-273.15 degC", "degC", -273.15),
    ],
)  # fmt: skip
def test_ratios_and_compounds_that_are_in_use_are_read(text, unit, number):
    assert number_in(text, unit) == pytest.approx(number, rel=1e-12)


def test_minus_nothing_is_nothing():
    assert math.copysign(1.0, number_in("-0 g", "g")) == 1.0


HOSTILE = [
    "1 g**9**9**9", "9**9**9**9 g", "1 g^(9^9)", "1 (g**3)**3**3", "1" + "0" * 400 + " g",
    "10^400 g", "1e400 g", "1e9999 g", "nan g", "inf g", "-inf g", "nan", "1 nan", "1 g*nan",
    "1 " + "(" * 30 + "g", "1 " + "(" * 15 + "g" + ")" * 15 + ")", "1 g" * 40_000, "g" * 100_000,
    "1 g" + "*g" * 50_000, "(" * 100_000, "9" * 100_000, "1 g" + " " * 100_000, "1 parsec",
    "1 __class__", "1 g;import os", "1 g 2", "1 g 2 3", "1 g m 2", "1 g/0", "1 g*", "1 *g", "1 /g",
    "1 g4", "1 g-4", "1 g^2.5", "1 g(", "1 )", "٤ g", "1_000 g", "0x10 g", "1 g\x00", "1 \ud800",
    "", " ", "\n", "1 g\n2 g\n3", "1,5 g", "1 kg2/g2", "1 quettagram",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_what_the_grammar_has_not_is_refused_with_the_right_form(text):
    number_in("1 g", "g")
    before_s = time.process_time()
    with pytest.raises(ValueError, match=r"180 g|write '1\.5 g'") as said:
        number_in(text, "g")
    assert time.process_time() - before_s < MOST_CPU_S
    assert len(str(said.value)) < 250
    with pytest.raises(ValueError, match="EUR/kg"):
        price_per_kg(f"1 EUR/{text}")


def test_every_name_of_the_list_is_one_that_the_registry_has():
    for name in _NAMES - {"dimensionless"}:
        assert convert(1.0, name, name) == 1.0
        assert len(unit_of(name)) == 1


@settings(deadline=None, max_examples=500)
@given(
    st.text(max_size=200)
    | st.lists(
        st.sampled_from(["1", "9", "e", ".", "-", "*", "**", "^", "/", "(", ")", " ", "%", "°C"])
        | st.sampled_from(sorted(_NAMES)),
        max_size=14,
    ).map("".join)
    | st.lists(st.sampled_from(["g", "m", "(", ")", "^3", "**-3", " ", "/"]), max_size=20).map(
        lambda parts: "1 " + "".join(parts)
    ),
    st.sampled_from(["g", "degC", "delta_degC", "s", "percent", "g/min", "J/K", "dimensionless"]),
)
def test_any_text_is_a_finite_number_or_refused_for_next_to_nothing(text, unit):
    before_s = time.process_time()
    try:
        assert math.isfinite(number_in(text, unit))
        assert len(text) <= LONGEST
    except ValueError as cause:
        said = str(cause)
    else:
        said = "write"
    assert "write" in said
    assert time.process_time() - before_s < 20 * MOST_CPU_S  # the first look-up of a name is slow


def test_a_power_of_powers_ends_in_a_process_that_has_a_second_to_live():
    """The earlier reading of units worked such powers out for as long as it took."""
    code = (
        "from logger.model.quantity import number_in\n"
        "try: number_in('1 g**9**9**9', 'g')\n"
        "except ValueError as said: print(said)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (8, 8)),
    )  # fmt: skip
    assert done.returncode != -signal.SIGXCPU, "out of processor time"
    assert "180 g" in done.stdout
