"""The fitting code path of the forecast, held against certified results."""

import re
from pathlib import Path

import numpy as np
import pytest

from logger.science.statistics.fitting import Fit, fit_least_squares

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published"


def certified(name):
    """Read one set: NIST/ITL Statistical Reference Datasets, nonlinear regression (US government
    data; file as in the lmfit 1.3.4 source distribution, NIST_STRD/)."""
    lines = (PUBLISHED / f"{name}.dat").read_text(encoding="ascii").splitlines()
    rows = [
        [float(x) for x in re.split(r"\s+", line.split("=")[1].strip())]
        for line in lines
        if re.match(r"\s*b\d\s*=", line)
    ]
    starts, values, spreads = np.array(rows)[:, :2].T, np.array(rows)[:, 2], np.array(rows)[:, 3]
    begin = max(i for i, line in enumerate(lines) if line.startswith("Data:")) + 1
    data = np.array([[float(x) for x in line.split()] for line in lines[begin:] if line.strip()])
    squares = next(float(x.split()[-1]) for x in lines if x.startswith("Residual Sum of Squares"))
    residual_sd = next(float(x.split()[-1]) for x in lines if "Residual Standard Deviation" in x)
    return data[:, 1], data[:, 0], starts, values, spreads, squares, residual_sd


def rising(x):
    """b1 (1 - exp(-b2 x)): Misra1a and BoxBOD."""

    def model(b):
        return b[0] * (1 - np.exp(-b[1] * x))

    def slopes(b):
        return np.column_stack([1 - np.exp(-b[1] * x), b[0] * x * np.exp(-b[1] * x)])

    return model, slopes


def two_exponentials(x):
    """b1 + b2 exp(-b4 x) + b3 exp(-b5 x): MGH17."""

    def model(b):
        return b[0] + b[1] * np.exp(-b[3] * x) + b[2] * np.exp(-b[4] * x)

    def slopes(b):
        e4, e5 = np.exp(-b[3] * x), np.exp(-b[4] * x)
        return np.column_stack([np.ones_like(x), e4, e5, -b[1] * x * e4, -b[2] * x * e5])

    return model, slopes


def standard_deviations(fit: Fit):
    """s sqrt(diag((J'J)^-1)), as NIST certifies it; columns scaled, or the inverse would spoil."""
    variance = fit.sum_of_squares / (fit.residuals.size - fit.params.size)
    size = np.linalg.norm(fit.jacobian, axis=0)
    scaled = fit.jacobian / size
    return np.sqrt(variance * np.diag(np.linalg.inv(scaled.T @ scaled))) / size


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize(
    ("name", "kind"), [("Misra1a", rising), ("BoxBOD", rising), ("MGH17", two_exponentials)]
)
def test_a_certified_set_is_fitted_to_six_digits(name, kind, start):
    """NIST StRD nonlinear: certified parameters, their standard deviations, sum of squares. From
    both starts of the file, the far one too."""
    x, y, starts, values, spreads, squares, residual_sd = certified(name)
    model, slopes = kind(x)
    with np.errstate(over="ignore", invalid="ignore"):  # trial steps run far off, and come back
        fit = fit_least_squares(
            lambda b: model(b) - y, slopes, starts[start], np.abs(starts[start]),
            tolerance=1e-14, max_steps=5000,
        )  # fmt: skip
    assert fit.params == pytest.approx(values, rel=1e-6)
    assert standard_deviations(fit) == pytest.approx(spreads, rel=1e-6)
    assert fit.sum_of_squares == pytest.approx(squares, rel=1e-6)
    freedom = y.size - values.size
    assert np.sqrt(fit.sum_of_squares / freedom) == pytest.approx(residual_sd, rel=1e-6)


def test_misra1a_as_certified():
    """The same numbers written out once, so that a damaged fixture is noticed."""
    _, _, _, values, _, _, residual_sd = certified("Misra1a")
    assert values == pytest.approx([2.3894212918e02, 5.5015643181e-04], rel=1e-10)
    assert residual_sd == pytest.approx(1.0187876330e-01, rel=1e-10)
