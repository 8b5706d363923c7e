"""The closed forms against an independent simulation: finite volumes by the method of lines."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from logger.model.errors import CannotSetError
from logger.science.calcium import salts as calcium
from logger.science.gel import alginate, gelling
from logger.science.gel.coating import Body


def simulated_set_time_s(
    *,
    thickness_m=1e-3,
    diffusivity=1e-9,
    outside=90.0,
    capacity=38.0,
    film_m_s=math.inf,
    demand=0.0,
    core_m=math.inf,
    power=0,
    cells=50,
):
    """Total calcium per cell; free is what exceeds the capacity; last cell full = set.

    `power` 0, 1, 2 for flat, cylinder, sphere of core radius `core_m`. Knows nothing of Neumann.
    """
    edges = np.linspace(thickness_m, 0.0, cells + 1)  # from the bath inwards
    width = thickness_m / cells
    radius = edges + (core_m if power else 1.0)
    area = radius**power
    volume = np.abs(np.diff(radius ** (power + 1))) / (power + 1)
    bath_volume = math.inf if demand == 0 else volume.sum() * capacity / (demand * outside)

    def rates(_, state):
        free = np.maximum(state[:-1] - capacity, 0.0)
        bath = state[-1]
        into = 1 / (1 / film_m_s + width / 2 / diffusivity)
        flux = np.concatenate(
            [[into * (bath - free[0])], -diffusivity / width * np.diff(free), [0]]
        )
        flow = flux * area
        gain = (flow[:-1] - flow[1:]) / volume
        return np.append(gain, -flow[0] / bath_volume)

    def last_cell_full(_, state):
        return state[-2] - capacity

    last_cell_full.terminal = True
    start = np.append(np.zeros(cells), outside)
    solved = solve_ivp(
        rates, (0, 1e6), start, method="BDF", events=last_cell_full, rtol=1e-5, atol=1e-4
    )
    return float(solved.t_events[0][0])


def formula_s(*, capacity=38.0, outside=90.0, body=None, **bath):
    coat = gelling.Coat(thickness_mm=1.0, capacity_mol_m3=capacity, body=body)
    around = gelling.Surroundings(temp_c=25.0, free_calcium_mol_m3=outside, **bath)
    return gelling.set_time_s(coat, around)


@pytest.mark.parametrize("stefan", [0.3, 1.0, 2.4, 8.0])
def test_set_time_agrees_with_an_independent_simulation(stefan):
    """Method of lines, 50 cells, 2 %."""
    simulated = simulated_set_time_s(outside=stefan * 38.0)
    assert formula_s(outside=stefan * 38.0) == pytest.approx(simulated, rel=0.02)


@pytest.mark.parametrize("film_m_s", [1e-5, 5e-6, 2e-6])
def test_the_film_errs_on_the_long_side_by_at_most_fifteen_percent(film_m_s):
    ratio = formula_s(film_m_s=film_m_s) / simulated_set_time_s(film_m_s=film_m_s)
    assert 1.0 <= ratio <= 1.15


@pytest.mark.parametrize(
    ("demand", "stefan", "core_mm", "power"),
    [
        (0.2, 2.4, 12.0, 0),
        (0.6, 1.0, 12.0, 0),
        (0.4, 8.0, 12.0, 0),
        (0.4, 2.4, 12.0, 1),
        (0.6, 2.4, 4.0, 1),
        (0.4, 8.0, 4.0, 2),
        (0.2, 1.0, 12.0, 2),
    ],
)
def test_a_bath_that_weakens_agrees_with_the_simulation(demand, stefan, core_mm, power):
    """Method of lines, 24 cells, 2.5 %."""
    simulated = simulated_set_time_s(
        demand=demand, outside=stefan * 38.0, core_m=core_mm * 1e-3, power=power, cells=24
    )
    shape = ("flat", "cylinder", "sphere")[power]
    body = Body(shape=shape, diameter_mm=2.0 * core_mm, length_mm=100.0) if power else None
    formula = formula_s(demand=demand, outside=stefan * 38.0, body=body)
    assert formula == pytest.approx(simulated, rel=0.025)


@pytest.mark.parametrize(("shape", "power", "within"), [("cylinder", 1, 0.02), ("sphere", 2, 0.03)])
def test_curvature_agrees_with_the_simulation(shape, power, within):
    body = Body(shape=shape, diameter_mm=20.0, length_mm=100.0)
    simulated = simulated_set_time_s(core_m=10e-3, power=power)
    assert formula_s(body=body) == pytest.approx(simulated, rel=within)


@pytest.mark.parametrize(
    ("stefan", "core_mm", "power", "thickness_mm", "film_m_s"),
    [
        (8.0, 4.0, 2, 1.0, math.inf),
        (2.4, 4.0, 2, 2.0, 1e-5),
        (8.0, 5.0, 1, 3.0, 1e-5),
        (2.4, 4.0, 1, 2.0, 1e-5),
        (2.4, 12.0, 2, 1.0, 3e-5),
    ],
)
def test_a_thick_coat_on_a_small_body_is_not_told_set_before_the_simulation(
    stefan, core_mm, power, thickness_mm, film_m_s
):
    """Method of lines, 24 cells; the film alone makes the formula longer, never the curve short."""
    shape = ("flat", "cylinder", "sphere")[power]
    coat = gelling.Coat(
        thickness_mm=thickness_mm,
        capacity_mol_m3=38.0,
        body=Body(shape=shape, diameter_mm=2.0 * core_mm, length_mm=100.0),
    )
    bath = gelling.Surroundings(
        temp_c=25.0,
        free_calcium_mol_m3=stefan * 38.0,
        film_m_s=None if math.isinf(film_m_s) else film_m_s,
    )
    simulated = simulated_set_time_s(
        thickness_m=thickness_mm * 1e-3,
        outside=stefan * 38.0,
        film_m_s=film_m_s,
        core_m=core_mm * 1e-3,
        power=power,
        cells=24,
    )
    assert 0.995 <= gelling.set_time_s(coat, bath) / simulated <= 1.05


def test_a_poor_bath_follows_the_quasi_steady_law():
    """Series of Neumann's solution for St -> 0: exact over quasi-steady = 1 + St/3."""
    exact = formula_s(outside=0.01 * 38.0)
    quasi_steady = (1e-3) ** 2 * 38.0 / (2 * 1e-9 * 0.38)
    assert exact / quasi_steady == pytest.approx(1 + 0.01 / 3, abs=1e-4)


def test_twice_the_thickness_takes_four_times_as_long():
    bath = gelling.Surroundings(temp_c=18.0, free_calcium_mol_m3=90.0)
    thin, thick = (
        gelling.set_time_s(gelling.Coat(thickness_mm=h, capacity_mol_m3=38.0), bath)
        for h in (0.5, 1.0)
    )
    assert thick / thin == pytest.approx(4.0, rel=1e-12)


@pytest.mark.parametrize(
    ("alginate_share", "salt_share", "thickness_mm", "temp_c", "expected_s"),
    [
        (0.015, 0.01, 0.5, 20.0, 99.4),
        (0.01, 0.005, 1.0, 20.0, 484.9),
        (0.02, 0.02, 1.0, 20.0, 307.1),
        (0.015, 0.01, 1.0, 12.0, 503.1),
        (0.005, 0.03, 0.3, 30.0, 9.2),
        (0.025, 0.003, 2.0, 5.0, 9716.0),
    ],
)
def test_worked_set_times(alginate_share, salt_share, thickness_mm, temp_c, expected_s):
    """Worked apart with brentq and another viscosity equation; 1 %."""
    coat = gelling.Coat(
        thickness_mm=thickness_mm,
        capacity_mol_m3=alginate.capacity_mol_m3(alginate_share, 1008.0),
    )
    free = calcium.free_calcium_mol_m3(salt_share, 20.0)
    bath = gelling.Surroundings(temp_c=temp_c, free_calcium_mol_m3=free)
    assert gelling.set_time_s(coat, bath) == pytest.approx(expected_s, rel=0.01)


@pytest.mark.parametrize(("demand", "factor"), [(0.1, 1.0721), (0.2, 1.1572), (0.4, 1.3853)])
def test_depletion_factor(demand, factor):
    """-2 (phi + ln(1 - phi)) / phi**2 by hand."""
    assert gelling.depletion_factor(demand) == pytest.approx(factor, abs=1e-4)


def test_depletion_factor_has_no_seam():
    assert gelling.depletion_factor(0.99e-4) == pytest.approx(
        gelling.depletion_factor(1.01e-4), rel=1e-5
    )


@pytest.mark.parametrize(("shape", "factor"), [("cylinder", 0.96898), ("sphere", 0.93939)])
def test_curvature_factor_on_a_10_mm_core(shape, factor):
    body = Body(shape=shape, diameter_mm=20.0, length_mm=100.0)
    assert gelling.curvature_factor(1.0, body) == pytest.approx(factor, abs=1e-4)


def test_a_bath_that_holds_less_than_the_coats_bind_is_refused_in_words():
    with pytest.raises(CannotSetError, match=r"cannot set this coat.*more bath, more salt"):
        formula_s(demand=1.0)


def test_a_bath_without_free_calcium_is_refused():
    with pytest.raises(CannotSetError, match="add salt"):
        formula_s(outside=0.0)


def test_demand_of_the_coats_on_a_small_bath():
    """12 coats of 5 mL at 38 mol/m3 in 100 mL at 90 mol/m3: 0.2533, by hand."""
    assert gelling.calcium_demand(60_000.0, 38.0, 100.0, 90.0) == pytest.approx(60 * 38 / 9000)
