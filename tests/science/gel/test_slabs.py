"""A slab test gives a diffusivity with its range, or is refused; its file reads back."""

import datetime
import math

import numpy as np
import pytest
from scipy.optimize import curve_fit

from logger.model.errors import InputError, OutOfRangeError
from logger.science.gel import slabs
from logger.science.gel.coating import Body
from logger.science.gel.dwell import Unknowns, needed_dwell
from logger.science.gel.gelfront import D25_M2_S, neumann_root
from logger.science.gel.gelling import Coat, Surroundings

DAY = datetime.date(2026, 11, 20)
TIMES_S = np.array([60.0, 120.0, 300.0, 600.0])


def front_by_hand_mm(d_m2_s, root=0.80060):
    """2 L sqrt(D t) with the L of St = 2, worked apart to 1e-5 (table of roots, St 2: 0.80060)."""
    return 2e3 * root * np.sqrt(d_m2_s * TIMES_S)


def made(thick_mm, *, stefan=2.0, temp_c=25.0, times_s=TIMES_S):
    return slabs.slab_test("medium", DAY, times_s, thick_mm, stefan=stefan, temp_c=temp_c)


def test_a_slab_at_25_degrees_gives_back_the_diffusivity_it_was_made_with():
    test, fit = made(front_by_hand_mm(0.9e-9))
    assert test.d25_m2_s == pytest.approx(0.9e-9, rel=1e-3)
    assert fit.delay_s == pytest.approx(0.0, abs=0.1)


def test_a_cold_slab_is_brought_to_25_degrees_by_the_fluidity_of_water():
    """Factor 0.874 at 20 degC: CRC Handbook's viscosity equation and Stokes-Einstein."""
    test, _ = made(front_by_hand_mm(0.874 * 0.9e-9), temp_c=20.0)
    assert test.d25_m2_s == pytest.approx(0.9e-9, rel=5e-3)


def test_the_range_is_students_t_for_the_scatter_and_five_percent_for_the_method():
    """t(0.975, 2 degrees of freedom) = 4.303: any table of Student's t."""
    thick = front_by_hand_mm(0.9e-9) + np.array([0.01, -0.008, 0.006, -0.01])
    test, _ = made(thick)
    root = float(neumann_root(2.0))

    def front(time_s, d_e9, delay_s):
        return 2e3 * root * np.sqrt(d_e9 * 1e-9 * (time_s - delay_s))

    best, spread = curve_fit(front, TIMES_S, thick, p0=[0.9, 0.0])
    half = math.hypot(4.303 * math.sqrt(spread[0, 0]), 0.1 * best[0]) * 1e-9
    assert test.d25_m2_s == pytest.approx(best[0] * 1e-9, rel=0.01)
    assert test.half_range_m2_s == pytest.approx(half, rel=0.1)


@pytest.mark.parametrize(
    ("times_s", "thick_mm", "says"),
    [
        ([60, 120], [0.4, 0.6], "at least 3"),
        ([60, 120, 300, 600], [0.4, 0.6, 0.9], "a thickness for each time"),
        ([60, 120, 300], [0.4, 0.7, 0.6], "a front does not go back"),
        ([60, 60, 300], [0.4, 0.5, 0.9], "each time once"),
        ([60, 120, 300], [0.0, 0.5, 0.9], "more than 0"),
        ([60, 120, 300], [4.0, 6.0, 60.0], "at most 50"),
        ([1, 2, 5], [0.4, 0.6, 0.9], "check the units"),
        ([3600, 7200, 18000], [0.4, 0.6, 0.9], "check the units"),
        ([60, 120, 300, 600], [0.3, 0.7, 0.75, 1.2], "scatter too much"),
        ([60, 120, math.nan], [0.4, 0.5, 0.9], "more than 0"),
        ([60, 120, 300], [0.4, 0.5, math.inf], "at most 50"),
    ],
)
def test_readings_that_are_no_slab_are_refused(times_s, thick_mm, says):
    with pytest.raises(OutOfRangeError, match=says):
        made(thick_mm, times_s=times_s)


def test_the_needed_dwell_goes_by_the_slab_and_says_so():
    """Neumann's time goes as 1/D; a flat coat without a film has no other term."""
    coat = Coat(thickness_mm=0.6, capacity_mol_m3=38.0)
    bath = Surroundings(temp_c=20.0, free_calcium_mol_m3=76.0)
    test, _ = made(front_by_hand_mm(0.8e-9))
    plain = needed_dwell(coat, bath)
    by_slab = needed_dwell(coat, bath, unknowns=test.unknowns())
    assert by_slab.likely_s / plain.likely_s == pytest.approx(D25_M2_S / 0.8e-9, rel=2e-3)
    assert by_slab.high_s / by_slab.low_s < plain.high_s / plain.low_s
    assert "by your slab test of 2026-11-20" in by_slab.says()
    assert "slab" not in plain.says()


def test_in_the_slabs_own_bath_it_does_not_matter_how_much_the_alginate_binds():
    """The slab shows 4 D L**2 itself: where binding is weaker, less D made the same front."""
    coat = Coat(thickness_mm=0.6, capacity_mol_m3=38.0)
    bath = Surroundings(temp_c=25.0, free_calcium_mol_m3=76.0)
    test, _ = made(front_by_hand_mm(0.9e-9))
    only_binding = Unknowns(
        d25_low_m2_s=test.d25_m2_s, d25_m2_s=test.d25_m2_s, d25_high_m2_s=test.d25_m2_s,
        thickness_low=1.0, thickness_high=1.0, slab_stefan=2.0,
    )  # fmt: skip
    needed = needed_dwell(coat, bath, unknowns=only_binding)
    assert needed.high_s == pytest.approx(needed.low_s, rel=1e-9)
    weaker = needed_dwell(
        coat, Surroundings(temp_c=25.0, free_calcium_mol_m3=19.0), unknowns=only_binding
    )
    assert weaker.high_s > 1.05 * weaker.low_s


def test_without_a_test_the_published_range_stands():
    assert slabs.unknowns_by(None) == Unknowns()


@pytest.mark.parametrize("name", ["alginate, medium", 'odd "name" \\ [x]', "Säure-Alginat"])
def test_a_test_written_down_reads_back_under_its_name(name):
    test, _ = slabs.slab_test(name, DAY, TIMES_S, front_by_hand_mm(0.9e-9), stefan=2.0, temp_c=25.0)
    text = slabs.slab_as_toml(test, TIMES_S, front_by_hand_mm(0.9e-9), temp_c=25.0)
    assert slabs.slabs_from_toml(text, "slabs.toml") == {slabs.folded(name): test}
    assert slabs.slab_from_json(test.as_json(), "event") == test


def test_the_latest_test_of_an_alginate_counts():
    rows = []
    for day, d_m2_s in ((DAY, 0.9e-9), (datetime.date(2026, 3, 1), 0.7e-9)):
        thick = front_by_hand_mm(d_m2_s)
        test, _ = slabs.slab_test("Medium", day, TIMES_S, thick, stefan=2.0, temp_c=25.0)
        rows.append(slabs.slab_as_toml(test, TIMES_S, thick, temp_c=25.0))
    found = slabs.slabs_from_toml("\n".join(rows), "slabs.toml")
    assert found["medium"].tested == DAY


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("d25_m2_s", "diffusivity"), "diffusivity.*unknown key"),
        (("tested = 2026-11-20", 'tested = "yesterday"'), "tested.*a date"),
        (('alginate = "medium"', 'alginate = " "'), "alginate's name"),
        (("[[slab]]", "[slab]"), "write each one as"),
        (("d25_low_m2_s = ", "d25_low_m2_s = 1.0 #"), "between its low and high"),
        (("d25_m2_s = ", "d25_m2_s = 1.0 #"), "d25_m2_s"),
        (("calcium_over_capacity = 2.0", "calcium_over_capacity = true"), "a number above 0"),
        (("[[slab]]", "[[slab"), "at line 1"),
    ],
)
def test_a_file_that_cannot_be_is_refused_with_its_place(change, says):
    thick = front_by_hand_mm(0.9e-9)
    test, _ = made(thick)
    text = slabs.slab_as_toml(test, TIMES_S, thick, temp_c=25.0).replace(*change, 1)
    with pytest.raises(InputError, match=says) as refused:
        slabs.slabs_from_toml(text, "slabs.toml")
    assert refused.value.where.startswith("slabs.toml")


def test_a_curved_coat_in_a_still_bath_takes_the_slab_too():
    """With a film and curvature the time still falls as D rises, less than in proportion."""
    roll = Coat(
        thickness_mm=0.6,
        capacity_mol_m3=38.0,
        body=Body(shape="cylinder", diameter_mm=26.0, length_mm=115.0),
    )
    bath = Surroundings(temp_c=20.0, free_calcium_mol_m3=76.0, film_m_s=3e-6)
    test, _ = made(front_by_hand_mm(0.8e-9))
    ratio = needed_dwell(roll, bath, unknowns=test.unknowns()).likely_s
    ratio /= needed_dwell(roll, bath).likely_s
    assert 1.05 < ratio < D25_M2_S / 0.8e-9


def test_no_gel_that_can_be_lies_outside_the_bounds_of_a_slip():
    """Nernst-Haskell with the limiting conductivities 59.47 (1/2 Ca) and 76.35 (Cl) S cm2/mol of
    the CRC Handbook: 1.335e-9 m2/s for the salt, 0.792e-9 for the ion. Gels keep 60 to 95 %; where
    0.35 instead of 0.5 calcium is bound a slab shows up to 1.4 times its diffusivity."""
    per_farad = 8.314462618 * 298.15 / 96485.33212**2
    salt = per_farad * 1.5 / (1 / 59.47e-4 + 1 / 76.35e-4)
    ion = per_farad * 59.47e-4 / 2
    assert salt == pytest.approx(1.335e-9, rel=1e-3)
    assert ion == pytest.approx(0.792e-9, rel=1e-3)
    low, high = slabs.LIKELY_M2_S
    assert low < 0.6 * ion
    assert high > 0.95 * 1.4 * salt


def test_a_slab_is_compared_with_the_default_by_what_a_skin_takes():
    """A fifth less diffusivity takes 1 / 0.8: 25 % more time; a fifth more 1 / 1.2: 17 % less."""
    slow, quick, same = (
        slabs.says(made(front_by_hand_mm(f * D25_M2_S))[0]) for f in (0.8, 1.2, 1.0)
    )
    assert "20 % below the published default" in slow
    assert "takes 25 % more time" in slow
    assert "20 % above the published default" in quick
    assert "takes 17 % less time" in quick
    assert "the same as the published default" in same
    assert "0.80e-9 ±" in slow


@pytest.mark.parametrize(
    ("times_s", "thick_mm"),
    [([60, 120, 300], [0.4, 0.4, 0.9]), ([300, 60, 120], [0.9, 0.4, 0.3])],
)
def test_a_front_that_stands_or_goes_back_is_refused_with_the_reading_before(times_s, thick_mm):
    with pytest.raises(OutOfRangeError, match=r"more than the 0\.4 mm read before it"):
        made(thick_mm, times_s=times_s)


@pytest.mark.parametrize(("last_s", "refused"), [(86_400.0, False), (86_401.0, True)])
def test_a_day_is_the_longest_slab_test(last_s, refused):
    times_s = np.array([21_600.0, 43_200.0, last_s])
    thick_mm = 2e3 * 0.80060 * np.sqrt(0.9e-9 * times_s)
    if not refused:
        assert made(thick_mm, times_s=times_s)[0].d25_m2_s == pytest.approx(0.9e-9, rel=1e-3)
        return
    with pytest.raises(OutOfRangeError, match="at most 86400"):
        made(thick_mm, times_s=times_s)


@pytest.mark.parametrize(
    ("line", "says"),
    [("d25_low_m2_s = 0", "a number above 0"), ("d25_high_m2_s = inf", "a number above 0"),
     ("calcium_over_capacity = 1001", "a number below"), ("d25_m2_s = 1.9e-10", "to 2.0e-09"),
     ("d25_m2_s = 2.1e-9", "to 2.0e-09")],
)  # fmt: skip
def test_a_number_that_no_test_gives_is_refused(line, says):
    test, _ = made(front_by_hand_mm(0.9e-9))
    text = slabs.slab_as_toml(test, TIMES_S, front_by_hand_mm(0.9e-9), temp_c=25.0)
    key = line.partition(" ")[0]
    wrong = "\n".join(line if t.startswith(f"{key} =") else t for t in text.splitlines())
    with pytest.raises(InputError, match=says):
        slabs.slabs_from_toml(wrong, "slabs.toml")
    at_most = text.replace("calcium_over_capacity = 2.0", "calcium_over_capacity = 1000")
    assert slabs.slabs_from_toml(at_most, "slabs.toml")
