"""Slab tests: how fast calcium moves in a gel of one's own alginate, dated, and their file.

Pure; text in, text out. The fit is logger.science.gel.slabfit's; here it gets its range, is refused
where it cannot be true, and is written and read as ``slabs.toml``. Used by the command that takes a
test, the plan, and the watchers of coat and bath.
"""

import datetime
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from logger.model.errors import InputError, OutOfRangeError
from logger.model.files import table_of
from logger.science.gel.dwell import Unknowns
from logger.science.gel.gelfront import D25_M2_S
from logger.science.gel.slabfit import SlabCalibration, fit_slab
from logger.words.values import exact_text, percent_text

U_METHOD_SHARE = 0.05
"""Standard uncertainty of a slab test beside its scatter, as a share: temperature, strengths, where
the eye puts the front; from memory."""
WIDEST_SHARE = 0.5
"""A range wider than this to one side says no more than the default does."""
LIKELY_M2_S = (0.2e-9, 2.0e-9)
"""A diffusivity outside is a slip: calcium chloride in water has 1.34e-9 at 25 degC (limiting
conductivities), the ion 0.79e-9, and a gel keeps most of it."""
THICKEST_MM, LONGEST_S = 50.0, 86_400.0
"""A front that has come further, or a time longer than this, is a slip of units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabTest:
    """What a slab test says of one alginate.

    Attributes
    ----------
    alginate : str
        As the sheet names it.
    tested : date
        Day of the test.
    d25_m2_s, d25_low_m2_s, d25_high_m2_s : float
        Diffusivity of calcium at 25 degC and the ends of about 95 % of the chance [m2/s].
    calcium_over_capacity : float
        Free calcium of the bath over capacity of the slab, as the fit took it.
    """

    alginate: str
    tested: datetime.date
    d25_m2_s: float
    d25_low_m2_s: float
    d25_high_m2_s: float
    calcium_over_capacity: float

    @property
    def named(self) -> str:
        """How it is called beside what it gave."""
        return f"your slab test of {self.tested.isoformat()}"

    @property
    def half_range_m2_s(self) -> float:
        """Half the range of the diffusivity [m2/s]."""
        return (self.d25_high_m2_s - self.d25_low_m2_s) / 2.0

    def unknowns(self) -> Unknowns:
        """Return what is still not known of a coat of this alginate."""
        return Unknowns(
            d25_low_m2_s=self.d25_low_m2_s,
            d25_m2_s=self.d25_m2_s,
            d25_high_m2_s=self.d25_high_m2_s,
            slab_stefan=self.calcium_over_capacity,
            by=self.named,
        )

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON values, for the event that keeps it in a run."""
        return {**asdict(self), "tested": self.tested.isoformat()}


def unknowns_by(test: SlabTest | None) -> Unknowns:
    """Return what is not known of a coat: by a slab test, or by the published range without one."""
    return Unknowns() if test is None else test.unknowns()


def folded(alginate: str) -> str:
    """Return a name as names are compared: case and spaces do not matter."""
    return " ".join(alginate.casefold().split())


def slab_test(
    alginate: str,
    tested: datetime.date,
    time_s: ArrayLike,
    thickness_mm: ArrayLike,
    *,
    stefan: float,
    temp_c: float,
) -> tuple[SlabTest, SlabCalibration]:
    """Work a slab test out, or refuse it.

    Parameters
    ----------
    alginate : str
        As the sheet names it.
    tested : date
        Day of the test.
    time_s, thickness_mm : array_like, shape (n,), n >= 3
        When [s] and how far the front had come [mm].
    stefan : float
        Free calcium of the bath over capacity of the slab [1].
    temp_c : float
        Bath temperature [degC], 0 to 60.

    Returns
    -------
    tuple
        The test with its range, and the fit it comes from.

    Raises
    ------
    OutOfRangeError
        If the readings are no slab test: too few, not growing, beyond any slab, scattered, or with
        a diffusivity that no gel has.

    Notes
    -----
    The range is that of Student's t for the scatter of the readings about the line (n - 2 degrees
    of freedom, 95 %), and twice 5 % for what all readings share, in quadrature.
    """
    # Here, because every process that may need it would pay for it at its start.
    from scipy.special import stdtrit

    time, thick = np.asarray(time_s, dtype=float), np.asarray(thickness_mm, dtype=float)
    _require_slab(time, thick)
    fit = fit_slab(time, thick, stefan, temp_c)
    d25 = fit.d25_m2_s
    low, high = LIKELY_M2_S
    if not low <= d25 <= high:
        raise OutOfRangeError(
            "diffusivity at 25 degC [m2/s]",
            d25,
            f"{low:.1e} to {high:.1e}, the range for calcium in a gel: check the units of the "
            "readings, the strengths and the hydrate of the salt",
        )
    t_factor = float(stdtrit(time.size - 2, 0.975))
    half = math.hypot(t_factor * fit.u_d25_m2_s, 2.0 * U_METHOD_SHARE * d25)
    if half > WIDEST_SHARE * d25:
        raise OutOfRangeError(
            "uncertainty of the result as a share of it",
            half / d25,
            f"at most {WIDEST_SHARE:g}: the readings scatter too much; take more readings, "
            "and later ones",
        )
    test = SlabTest(
        alginate=alginate,
        tested=tested,
        d25_m2_s=d25,
        d25_low_m2_s=d25 - half,
        d25_high_m2_s=d25 + half,
        calcium_over_capacity=stefan,
    )
    return test, fit


def says(test: SlabTest) -> str:
    """Say the diffusivity, its range, and how far it lies from the default."""
    off = test.d25_m2_s / D25_M2_S - 1.0
    usual = f"the published default of {_e9(D25_M2_S)}"
    if abs(off) < 0.005:
        beside = f"the same as {usual}"
    else:
        side, less = ("above", "less") if off > 0.0 else ("below", "more")
        change = abs(1.0 / (1.0 + off) - 1.0)
        beside = (
            f"{percent_text(abs(off))} {side} {usual}: a skin takes {percent_text(change)} {less} "
            "time, the film of a still bath apart"
        )
    return (
        f"{test.alginate}: calcium moves at {_e9(test.d25_m2_s)} ± {_e9(test.half_range_m2_s)} "
        f"m²/s at 25 °C, {beside}"
    )


def _e9(value_m2_s: float) -> str:
    return f"{value_m2_s * 1e9:.2f}e-9"


# The file.


def slab_as_toml(
    test: SlabTest, time_s: ArrayLike, thickness_mm: ArrayLike, *, temp_c: float
) -> str:
    """Write one test as TOML that `slabs_from_toml` reads, with the readings it comes from.

    Parameters
    ----------
    test : SlabTest
        The result.
    time_s, thickness_mm : array_like, shape (n,)
        When [s] and how far the front had come [mm].
    temp_c : float
        Bath temperature [degC].
    """
    time = [float(t) for t in np.asarray(time_s, dtype=float)]
    thick = [float(mm) for mm in np.asarray(thickness_mm, dtype=float)]
    plain = "".join(c if c.isprintable() else " " for c in test.alginate)
    quoted = plain.replace("\\", "\\\\").replace('"', '\\"')
    lines = ["[[slab]]", f'alginate = "{quoted}"', f"tested = {test.tested.isoformat()}"]
    lines += [f"{name} = {getattr(test, name)!r}" for name in _NUMBERS]
    lines += [f"bath_c = {float(temp_c)!r}", f"time_s = {time!r}", f"thickness_mm = {thick!r}"]
    return "\n".join(lines) + "\n"


def slabs_from_toml(text: str, where: str) -> dict[str, SlabTest]:
    """Read slab tests.

    Parameters
    ----------
    text : str
        A ``[[slab]]`` table for each test.
    where : str
        Name of the file, for messages.

    Returns
    -------
    dict
        The latest test of each alginate, by its name as `folded` gives it.

    Raises
    ------
    InputError
        If the text is no TOML, a key is unknown or missing, or a number cannot be.
    """
    tables = table_of(text, where)
    rows = tables.pop("slab", [])
    if tables or not isinstance(rows, list):
        found = next(iter(tables), "slab")
        raise InputError(f"{where}: {found}", "no slab test", "write each one as [[slab]]")
    latest: dict[str, SlabTest] = {}
    for place, row in enumerate(rows, start=1):
        test = _test(row, f"{where}: slab {place}")
        before = latest.get(folded(test.alginate))
        if before is None or test.tested >= before.tested:
            latest[folded(test.alginate)] = test
    return latest


def slab_from_json(data: Mapping[str, Any], where: str) -> SlabTest:
    """Read a test as `SlabTest.as_json` gives it.

    Raises
    ------
    InputError
        If something is missing or cannot be.
    """
    try:
        tested = datetime.date.fromisoformat(str(data.get("tested")))
    except ValueError as cause:
        raise InputError(f"{where}.tested", repr(data.get("tested")), "a date") from cause
    known = {name: data.get(name) for name in ("alginate", *_NUMBERS)}
    return _test({**known, "tested": tested}, where)


_NUMBERS = tuple(f.name for f in fields(SlabTest) if f.name not in ("alginate", "tested"))
_KEPT = ("bath_c", "time_s", "thickness_mm")


def _test(row: Any, where: str) -> SlabTest:
    if not isinstance(row, dict):
        raise InputError(where, repr(row), "write it as a [[slab]] table")
    known = ("alginate", "tested", *_NUMBERS, *_KEPT)
    unknown = sorted(set(row) - set(known))
    if unknown:
        raise InputError(f"{where}.{unknown[0]}", "an unknown key", "use " + ", ".join(known))
    name, tested = row.get("alginate"), row.get("tested")
    if not isinstance(name, str) or not name.strip():
        raise InputError(f"{where}.alginate", repr(name), "the alginate's name as in the sheet")
    if type(tested) is not datetime.date:
        raise InputError(f"{where}.tested", repr(tested), "a date such as 2026-11-20")
    numbers = {key: _positive(row.get(key), f"{where}.{key}") for key in _NUMBERS}
    test = SlabTest(alginate=name, tested=tested, **numbers)
    low, high = LIKELY_M2_S
    if not low <= test.d25_m2_s <= high:
        raise InputError(f"{where}.d25_m2_s", f"{test.d25_m2_s:g}", f"{low:.1e} to {high:.1e}")
    if not test.d25_low_m2_s <= test.d25_m2_s <= test.d25_high_m2_s:
        raise InputError(f"{where}.d25_m2_s", f"{test.d25_m2_s:g}", "between its low and high end")
    if test.calcium_over_capacity > 1e3:
        raise InputError(f"{where}.calcium_over_capacity", "over 1000", "a number below")
    return test


def _positive(value: Any, where: str) -> float:
    good = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not good or not 0.0 < value < 1e9:
        raise InputError(where, repr(value), "a number above 0")
    return float(value)


def _require_slab(time: Any, thick: Any) -> None:
    """Refuse readings that no slab gives; `fit_slab` would take most."""
    for name, values, most in (
        ("time of a slab reading [s]", time, LONGEST_S),
        ("thickness of a slab reading [mm]", thick, THICKEST_MM),
    ):
        wrong = values[~((values > 0.0) & (values <= most))]
        if wrong.size:
            raise OutOfRangeError(name, float(wrong[0]), f"more than 0, at most {most:g}")
    if thick.size != time.size:
        raise OutOfRangeError("number of thicknesses", thick.size, "a thickness for each time")
    if time.size < 3:
        raise OutOfRangeError("number of slab readings", time.size, "at least 3")
    if np.unique(time).size != time.size:
        raise OutOfRangeError("number of slab readings", time.size, "each time once")
    order = np.argsort(time)
    if time.size >= 2 and not np.all(np.diff(thick[order]) > 0.0):
        back = int(np.argmax(np.diff(thick[order]) <= 0.0)) + 1
        raise OutOfRangeError(
            "thickness of a slab reading [mm]",
            float(thick[order][back]),
            f"more than the {exact_text(thick[order][back - 1], 'mm')} read before it: a front "
            "does not go back",
        )
