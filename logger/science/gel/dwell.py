"""The dwell a coat needs, as a range, and how far it has come.

Pure functions of numbers. logger.science.gel.gelling gives the set time of one exactly known coat;
here its uncertainty is added and the bath may change with time. Used by the plan and the bath
watcher.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from logger.model.errors import OutOfRangeError
from logger.science.gel.gelfront import (
    D25_HIGH_M2_S,
    D25_LOW_M2_S,
    D25_M2_S,
    neumann_root,
)
from logger.science.gel.gelling import Coat, Surroundings, set_time_s
from logger.words.durations import about, about_span

# Least advised dwell over the likely arrival of the front at the core, however well it is known.
# Binding is not infinitely strong: 90 % of it lies up to 1.08 times later at common strengths, 1.28
# times at the weakest bath simulated.
ADVISED_OVER_FRONT = 1.25
BINDING_LOW_SHARE = 0.7  # capacity if 0.35 instead of 0.5 calcium is bound per uronate
SAG = 1.3  # thickest over mean of a dipped coat that sags: from memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknowns:
    """What is not known of a coat: low and high ends, about 95 % of the chance between them.

    Parameters
    ----------
    d25_low_m2_s, d25_m2_s, d25_high_m2_s : float
        Calcium diffusivity at 25 degC [m2/s].
    capacity_low, capacity_high : float
        Capacity as a multiple of the stated one.
    thickness_low, thickness_high : float
        Thickness as a multiple of the stated mean; the high end carries the sag.
    slab_stefan : float or None
        Calcium over capacity of the slab that the diffusivity was fitted on. A slab shows how fast
        its front goes, so a diffusivity got from it hangs on the capacity taken: where less is
        bound, less diffusivity made the same front. None where it comes from elsewhere.
    by : str
        Where the diffusivity comes from, if not from the published range.
    """

    d25_low_m2_s: float = D25_LOW_M2_S
    d25_m2_s: float = D25_M2_S
    d25_high_m2_s: float = D25_HIGH_M2_S
    capacity_low: float = BINDING_LOW_SHARE
    capacity_high: float = 1.0
    thickness_low: float = 0.9
    thickness_high: float = SAG
    slab_stefan: float | None = None
    by: str = ""

    def d25_bound_m2_s(self, factor: float) -> float:
        """Diffusivity if a coat binds `factor` of the stated capacity [m2/s]."""
        if self.slab_stefan is None:
            return self.d25_m2_s
        stated, other = neumann_root([self.slab_stefan, self.slab_stefan / factor])
        return self.d25_m2_s * float(stated / other) ** 2


@dataclass(frozen=True, slots=True, kw_only=True)
class NeededDwell:
    """How long a coat needs in a bath [s].

    Parameters
    ----------
    low_s, likely_s, high_s : float
        Range and middle of the time until the front meets the core.
    advised_s : float
        What to do: the long end of the range, and no less than the middle with its margin for
        binding that is not sharp. By its own figures a coat is not through then in 1 of 40 cases.
    largest : str
        Which unknown makes most of the range.
    by : str
        Where the diffusivity comes from, if not from the published range.
    """

    low_s: float
    likely_s: float
    high_s: float
    advised_s: float
    largest: str
    by: str = ""

    def needs(self) -> str:
        """Say what the skin needs, without telling anybody what to do."""
        by = f"by {self.by} " if self.by else ""
        span = about_span(self.low_s, self.high_s)
        return f"{by}the skin needs {span}, most likely {about(self.likely_s)}"

    def says(self) -> str:
        """Say what to do and what it needs, where no sheet says how long."""
        return f"leave it {about(self.advised_s)}: {self.needs()}"


def needed_dwell(
    coat: Coat, bath: Surroundings, *, unknowns: Unknowns | None = None
) -> NeededDwell:
    """Needed dwell with its range.

    Parameters
    ----------
    coat : Coat
        Mean thickness, capacity, body.
    bath : Surroundings
        Temperature, free calcium, film, demand.
    unknowns : Unknowns, optional
        Ends of what is not known; defaults without any calibration.

    Raises
    ------
    CannotSetError
        If the bath cannot set the coat.

    Notes
    -----
    Each unknown is moved alone to its ends; the logarithms of the time ratios are added in
    quadrature, longer and shorter ones apart. The bath's demand follows the capacity, capped at
    0.98 so that the long end stays a number.
    """
    known = unknowns or Unknowns()
    likely = set_time_s(coat, bath, d25_m2_s=known.d25_m2_s)

    def with_capacity(factor: float) -> float:
        bound = bath.demand if bath.demand == 0 else min(0.98, bath.demand * factor)
        moved = replace(coat, capacity_mol_m3=coat.capacity_mol_m3 * factor)
        d25 = known.d25_bound_m2_s(factor)
        return set_time_s(moved, replace(bath, demand=bound), d25_m2_s=d25)

    def with_thickness(factor: float) -> float:
        moved = replace(coat, thickness_mm=coat.thickness_mm * factor)
        return set_time_s(moved, bath, d25_m2_s=known.d25_m2_s)

    def with_d25(d25: float) -> float:
        return set_time_s(coat, bath, d25_m2_s=d25)

    moves: dict[str, tuple[Callable[[float], float], Sequence[float]]] = {
        "diffusivity": (with_d25, (known.d25_low_m2_s, known.d25_high_m2_s)),
        "binding": (with_capacity, (known.capacity_low, known.capacity_high)),
        "thickness": (with_thickness, (known.thickness_low, known.thickness_high)),
    }
    shorter, longer, widest = 0.0, 0.0, {}
    for name, (time_with, ends) in moves.items():
        logs = [math.log(time_with(end) / likely) for end in ends]
        shorter += min(0.0, *logs) ** 2
        longer += max(0.0, *logs) ** 2
        widest[name] = max(logs) - min(logs)
    high_s = likely * math.exp(math.sqrt(longer))
    return NeededDwell(
        low_s=likely * math.exp(-math.sqrt(shorter)),
        likely_s=likely,
        high_s=high_s,
        advised_s=max(high_s, likely * ADVISED_OVER_FRONT),
        largest=max(widest, key=lambda name: widest[name]),
        by=known.by,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinProgress:
    """How far one coat has come, 0 at the dip; grows with `advance`.

    Parameters
    ----------
    done : float
        Time passed as a share of the set time, each moment at its own temperature and calcium.
    """

    done: float = 0.0

    @property
    def share(self) -> float:
        """Share of the thickness that has set, 0 to 1: the front goes with the root of time."""
        return min(1.0, math.sqrt(self.done))


def advance(
    progress: SkinProgress,
    elapsed_s: float,
    coat: Coat,
    bath: Surroundings,
    *,
    d25_m2_s: float = D25_M2_S,
) -> SkinProgress:
    """Progress after some more seconds in a bath as it is now.

    Parameters
    ----------
    progress : SkinProgress
        How far the coat had come.
    elapsed_s : float
        Time in the bath since then [s], 0 or more.
    coat : Coat
        Mean thickness, capacity, body.
    bath : Surroundings
        As the bath is now.
    d25_m2_s : float
        Diffusivity at 25 degC [m2/s].

    Raises
    ------
    OutOfRangeError
        If the time is negative.

    Notes
    -----
    Without film, curvature and depletion `done` is the time integral of 4 L**2 D over thickness
    squared; with them every moment counts by the set time it would have if the bath stayed so.
    """
    if elapsed_s < 0:
        raise OutOfRangeError("elapsed [s]", elapsed_s, "0 or more")
    return SkinProgress(done=progress.done + elapsed_s / set_time_s(coat, bath, d25_m2_s=d25_m2_s))


def left_s(
    progress: SkinProgress, coat: Coat, bath: Surroundings, *, d25_m2_s: float = D25_M2_S
) -> float:
    """Time until the front meets the core if the bath stays as it is [s]; 0 when it has.

    Parameters
    ----------
    progress : SkinProgress
        How far the coat has come.
    coat : Coat
        Mean thickness, capacity, body.
    bath : Surroundings
        As the bath is now.
    d25_m2_s : float
        Diffusivity at 25 degC [m2/s].
    """
    return max(0.0, 1.0 - progress.done) * set_time_s(coat, bath, d25_m2_s=d25_m2_s)
