"""A sensor of which nobody knows the class counts as wide as its type may be, and is marked."""

import math

import numpy as np
import pytest

from logger.science.metrology.tolerance import ASTM_E230, IEC_60584_2, widest_wire_k
from tests.correct.sensors import PLAIN_K, SCALE, corrector, line

KITCHEN_C = [-18.0, 0.0, 4.0, 25.0, 63.0, 100.0, 180.0]


def probe(**sensor):
    return corrector(sensor={"kind": "thermocouple", "assumed": True, **sensor})


@pytest.mark.parametrize("temp_c", KITCHEN_C)
@pytest.mark.parametrize(("tc_type", "widest_k"), [("K", 2.5), ("J", 2.5), ("N", 2.5), ("T", 1.0)])
def test_a_wire_of_unknown_class_has_the_widest_of_the_published_tables(tc_type, widest_k, temp_c):
    """IEC 60584-2:1993, classes 2 and 3; T also 0.0075 t above 133 degC, E230 no wider here."""
    expected = max(widest_k, 0.0075 * temp_c if tc_type == "T" else 0.0)
    assert widest_wire_k(tc_type, temp_c) == pytest.approx(expected)
    assert line(probe(type=tc_type), "wire", temp_c) == pytest.approx(expected / math.sqrt(3.0))


@pytest.mark.parametrize("temp_c", KITCHEN_C)
def test_a_wire_of_unknown_type_counts_as_wide_as_any_base_metal(temp_c):
    assert widest_wire_k(None, temp_c) == max(widest_wire_k(t, temp_c) for t in "EJKNT")


def test_no_class_of_either_standard_is_wider_than_the_widest():
    temps_c = np.arange(-199.0, 1700.0, 7.0)
    for table in (IEC_60584_2, ASTM_E230):
        for (tc_type, _), bands in table.items():
            widest = widest_wire_k(tc_type, temps_c)
            for band in bands:
                inside = (temps_c >= band.low_c) & (temps_c <= band.high_c)
                width = np.full(temps_c.shape, band.fixed_k)
                if not band.from_c:
                    width = np.maximum(width, band.relative * np.abs(temps_c))
                assert (widest[inside] >= width[inside]).all()
    one_by_one = [widest_wire_k("K", float(t)) for t in temps_c]
    np.testing.assert_array_equal(widest_wire_k("K", temps_c), one_by_one)


@pytest.mark.parametrize(
    ("sensor", "at", "half_width"),
    [
        ({"kind": "rtd"}, 63.0, 0.6 + 0.01 * 63.0),  # IEC 60751:2008, class C (from memory)
        ({"kind": "thermistor"}, 63.0, 2.5),  # typical, unverified
        ({"kind": "other"}, 63.0, 2.5),
    ],
)
def test_another_probe_of_unknown_accuracy_is_as_wide_as_its_kind_may_be(sensor, at, half_width):
    c = corrector(sensor={**sensor, "assumed": True})
    assert line(c, "probe", at) == pytest.approx(half_width / math.sqrt(3.0))


@pytest.mark.parametrize(
    ("load_g", "error_g"), [(0.0, 1.0), (50.0, 1.0), (150.0, 2.0), (900.0, 3.0), (5000.0, 3.0)]
)
def test_a_scale_of_unknown_class_has_the_widest_error_of_any_class(load_g, error_g):
    """OIML R 76-1:2006, table 6, doubled in service: IIII up to 1000 e, 3 e beyond."""
    c = corrector(role="bath_scale", resolution=1.0, sensor={"kind": "balance", "assumed": True})
    assert line(c, "balance", load_g) == pytest.approx(error_g / math.sqrt(3.0))
    known, us = c.values(np.array([load_g, math.nan]))
    assert us[0] == pytest.approx(c.value(load_g, "g")[1])
    assert math.isnan(known[1])
    assert math.isnan(us[1])


def test_only_what_nobody_knows_is_assumed():
    assert probe(type="K").assumed
    assert probe().assumed
    assert not probe(type="K", **{"class": 2}).assumed
    assert not corrector(sensor=PLAIN_K).assumed
    assert not corrector(role="bath_scale", sensor={**SCALE, "assumed": True}).assumed


@pytest.mark.parametrize(
    ("keys", "unset"),
    [
        ({}, "sensor.kind, sensor.type and sensor.class"),
        ({"sensor": {"kind": "thermocouple", "type": "K"}}, "sensor.type and sensor.class"),
        ({"sensor": {"kind": "rtd"}}, "sensor.accuracy"),
        (
            {"role": "bench_scale", "sensor": {"kind": "balance"}},
            "sensor.oiml_class and sensor.verification_interval, or sensor.linearity",
        ),
        ({"sensor": {"kind": "rtd", "assumed": True}}, ""),
        ({"sensor": PLAIN_K}, ""),
    ],
)
def test_the_keys_that_would_set_an_uncertainty_are_named_where_it_is_unknown(keys, unset):
    c = corrector(**keys)
    assert c.unset == unset
    assert math.isnan(c.value(40.0, c.channel.unit)[1]) == bool(unset)
