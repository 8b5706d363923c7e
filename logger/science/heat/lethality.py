"""What a published heating table credits for a time at a temperature.

Pure functions; the tables lie in ``rulesets.toml``. Used by logger.watch.stages.cook.watcher. A
table is for one food and one organism; crediting it says nothing of another, and nothing here says
that food is safe. Give it the temperature minus its expanded uncertainty.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass

from logger.model.errors import InputError, OutOfRangeError


@dataclass(frozen=True, slots=True, kw_only=True)
class LethalityTable:
    """One published table of times at temperatures.

    Attributes
    ----------
    key, title, edition, family : str
        Where it comes from.
    organism, food, limits : str
        What it is for, and what it is not for.
    log_reduction : float
        Decimal reduction that each row stands for.
    temps_c : tuple of float
        Temperatures of the rows [degC], rising.
    times_s : tuple of float
        Times of the rows [s], falling, above 0.
    """

    key: str
    title: str
    edition: str
    family: str
    organism: str
    food: str
    limits: str
    log_reduction: float
    temps_c: tuple[float, ...]
    times_s: tuple[float, ...]

    def __post_init__(self) -> None:
        rising = all(a < b for a, b in zip(self.temps_c, self.temps_c[1:], strict=False))
        falling = all(a > b > 0 for a, b in zip(self.times_s, self.times_s[1:], strict=False))
        if len(self.temps_c) != len(self.times_s) or len(self.temps_c) < 2:
            raise InputError(f"lethality.{self.key}", "rows that do not match", "give two or more")
        if not (rising and falling):
            raise InputError(f"lethality.{self.key}", "rows out of order", "rising, times falling")

    @property
    def name(self) -> str:
        """Title with edition and what it is for."""
        return f"{self.title}, {self.edition}: {self.organism} in {self.food}"


def time_needed_s(table: LethalityTable, temp_c: float) -> float:
    """Time at a steady temperature that the table asks for.

    Parameters
    ----------
    table : LethalityTable
        The table.
    temp_c : float
        Temperature minus its expanded uncertainty [degC].

    Returns
    -------
    float
        Time [s]: that of the rows at their temperatures, between them on a straight line of its
        logarithm, infinite below the first row, and never shorter than that of the last.
    """
    temps, times = table.temps_c, table.times_s
    if math.isnan(temp_c) or temp_c < temps[0]:
        return math.inf
    if temp_c >= temps[-1]:
        return times[-1]
    place = bisect_right(temps, temp_c)
    share = (temp_c - temps[place - 1]) / (temps[place] - temps[place - 1])
    return times[place - 1] * math.pow(times[place] / times[place - 1], share)


def rate_log_s(table: LethalityTable, temp_c: float) -> float:
    """Decimal reduction that the table credits per second [1/s]; 0 below its first row."""
    return table.log_reduction / time_needed_s(table, temp_c)


def credit_log(table: LethalityTable, from_c: float, to_c: float, seconds: float) -> float:
    """Decimal reduction credited between two readings.

    Parameters
    ----------
    table : LethalityTable
        The table.
    from_c, to_c : float
        Temperatures at both ends, each minus its expanded uncertainty [degC].
    seconds : float
        Time between them [s], 0 or more.

    Returns
    -------
    float
        Credit of the cooler end for the whole time: never more than what was there, if the
        temperature ran from one to the other. Nothing where a temperature is unknown (NaN).

    Raises
    ------
    OutOfRangeError
        If the time is negative.
    """
    if seconds < 0.0:
        raise OutOfRangeError("time between readings [s]", seconds, "0 or more")
    if math.isnan(from_c) or math.isnan(to_c):
        return 0.0
    return rate_log_s(table, min(from_c, to_c)) * seconds
