"""Which columns of a list without units may be probes, and which are something else.

A list of bare numbers may hold a clock, a count, a humidity or a pressure beside the temperatures.
Pure; looks at the columns as printed. Used by ``recognise``.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from logger.wire.series.beside import steady_steps

Kind = Literal[
    "number", "count", "clock", "humidity", "out of range", "blank", "set value", "battery",
    "other quantity", "output", "made of two", "range end", "further",
]  # fmt: skip
"""Further: one more of like values than its line format names."""
LOWEST, HIGHEST = -100.0, 450.0
"""Outside of these a number is no temperature of a kitchen, in degC or degF; a pressure of the air
in hPa is above. Common practice, no source."""
STEP = 0.2
"""A column that grows by the same step of at least this on each line is a clock."""
JITTER, JITTER_LINES = 0.1, 5
"""Or by steps that differ by this part of their mean at most, over so many lines."""
CLOCK_PLACES = 2
"""Decimals of such a clock at least."""
HUMID = (15.0, 100.0)
"""Relative humidity in a room [%]; common practice, no source."""
ROOM = (0.0, 45.0)
"""The temperature beside it, in degC; common practice, no source."""
DRY = (15.0, 75.0)
"""Relative humidity that stands before a temperature [%]: above, warmer fat beside a room is more
likely than moister air."""
INDOORS = (12.0, 32.0)
"""The temperature behind it, in degC: a probe in warm fat looks like a humidity else."""
APART = 8.0
"""Humidity beside a temperature is at least so different from it; common practice, no source."""
AIR_KPA = (85.0, 106.0)
"""Pressure of the air [kPa] below 1400 m; common practice, no source."""
LINES = 3
"""Lines before two columns are compared."""
SET_LINES, SET_STEP = 6, 0.5
"""One multiple of this in so many lines, while other columns change, is a set value."""
BATTERY, BATTERY_SPREAD, BATTERY_PLACES = (2.8, 4.35), 0.1, 2
"""Voltage of a lithium cell [V], how far it moves, and the decimals it has at least."""
SUPPLY = (11.0, 14.6)
"""Voltage of a lead battery or a supply of 12 V [V]; common practice, no source."""
ACID, ACID_PLACES = (1.0, 13.0), 2
"""pH, and its decimals, where the other columns have fewer."""
WARM = 15.0
"""Beside a battery at least one probe is warmer: the chill store is as cold as a battery."""
NEAR = 5.0
"""A set value is so near to what is set by it, once it is reached [K, or degF]."""
LIKE = 0.3
"""So near to a platinum sensor's resistance at a temperature beside it, a number is that [ohm]."""
DEW_BELOW, DEW_ABOVE = 25.0, 3.0
"""A third number so near to a temperature beside its humidity is made of both, as a dew point or a
heat index is [K]."""
RESTLESS = 5.0
"""No probe changes by so much from each line to the next [K, or degF]; an output does."""
MOVES = 1.0
"""Air in a room changes by no more than this while a port is heard [degC, % or kPa]."""


def kinds_of(columns: Sequence[Sequence[str]], *, named: bool = False) -> list[Kind]:
    """Return what each column of a list may be.

    Parameters
    ----------
    columns : sequence of sequence of str
        The cells of each column as printed, in the order of the lines; at least three lines.
    named : bool
        Each has a name in front.

    Returns
    -------
    list of str
        ``"number"`` for one that may be a probe.
    """
    kinds = [_kind(cells, alone=len(columns) == 1) for cells in columns]
    numbers = [_numbers(cells) for cells in columns]
    if all(kind == "out of range" for kind in kinds):
        kinds = ["number"] * len(kinds)  # of several scales, it may be
    for at, cells in enumerate(columns):
        others = [n for n, kind in enumerate(kinds) if kind == "number" and n != at]
        if kinds[at] == "number" and others:
            kinds[at] = _beside(cells, [columns[n] for n in others])
    _sort_out_air(kinds, numbers)
    _sort_out_alike(kinds, numbers)
    if not named:
        _sort_out_steps(kinds, columns)
    # A meter of pH shows its voltage and conductivity beside: which is which is not known.
    if "other quantity" in kinds and kinds.count("number") > 1:
        return ["other quantity" if kind == "number" else kind for kind in kinds]
    return kinds


def _sort_out_air(kinds: list[Kind], numbers: Sequence[Sequence[float]]) -> None:
    """Mark humidity and pressure of the air beside the temperature of a room."""
    means = [sum(some) / len(some) if some else 0.0 for some in numbers]
    pairs = [at for at in range(len(kinds) - 1) if _humid(kinds, means, at)]
    if len(kinds) == 3 and kinds[:2] == ["number"] * 2 and _is_air(numbers, means):
        kinds[1], kinds[2] = "out of range", "humidity"
    elif len(kinds) in (2, 3) and _humid_first(kinds, numbers, means):
        kinds[0] = "humidity"
    # Of longer lists only where each pair is alike: a fat at 60 degC stands beside a room at 21.
    elif len(kinds) in (2, 3) or pairs == list(range(0, len(kinds) - 1, 2)):
        for at in pairs:
            kinds[at + 1] = "humidity"
        if len(kinds) == 3 and kinds == ["number", "humidity", "number"]:
            near = -DEW_BELOW <= means[2] - means[0] <= DEW_ABOVE
            kinds[2] = "other quantity" if near else "number"


def _sort_out_alike(kinds: list[Kind], numbers: Sequence[Sequence[float]]) -> None:
    """Mark columns that are another one again: in another unit, its least or greatest value."""
    for one, first in enumerate(numbers):
        for other, second in enumerate(numbers):
            if one == other or {kinds[one], kinds[other]} != {"number"}:
                continue
            rows = list(zip(first, second, strict=False))
            if len(first) != len(second) or len(rows) < LINES:
                continue
            if _is_other_unit(rows):
                kinds[one] = kinds[other] = "other quantity"
            elif one < other and len(set(first)) >= LINES and first == second:
                kinds[other] = "made of two"
    _sort_out_extremes(kinds, numbers)


def _sort_out_extremes(kinds: list[Kind], numbers: Sequence[Sequence[float]]) -> None:
    """Mark the least and the greatest value so far behind a value that moves."""
    for at in range(len(kinds) - 2):
        actual, *ends = numbers[at : at + 3]
        if kinds[at] != "number" or len({len(actual), *map(len, ends)}) > 1 or len(actual) < LINES:
            continue
        for low, high in (ends, ends[::-1]):
            inside = all(lo <= a <= hi for lo, a, hi in zip(low, actual, high, strict=True))
            falls = all(b <= a for a, b in pairwise(low))
            rises = all(b >= a for a, b in pairwise(high))
            if inside and falls and rises and len(set(actual)) > 1:
                kinds[at + 1] = kinds[at + 2] = "made of two"


def _is_other_unit(rows: Sequence[tuple[float, float]]) -> bool:
    """Whether the second number is the first one in another unit, or its sensor's resistance."""
    # IEC 60751, resistance of a platinum sensor of 100 ohm above 0 degC (from memory).
    return (
        all(abs(1.8 * a + 32 - b) <= 0.11 for a, b in rows)
        or all(abs(a + 273.15 - b) <= 0.06 for a, b in rows)
        or all(abs(100 * (1 + 3.9083e-3 * a - 5.775e-7 * a * a) - b) <= LIKE for a, b in rows)
    )


def _sort_out_steps(kinds: list[Kind], columns: Sequence[Sequence[str]]) -> None:
    """Mark numbers that are printed with other decimals than those beside them.

    Like probes are printed alike; which of unlike columns is one is not known.
    """
    places = [{_places(cell) for cell in cells if _numbers([cell])} for cells in columns]
    probes = [at for at, kind in enumerate(kinds) if kind == "number" and places[at]]
    even = all(len(places[at]) == 1 and 0 not in places[at] for at in probes)
    if even and len({tuple(places[at]) for at in probes}) > 1:
        for at in probes:
            kinds[at] = "other quantity"


def _beside(cells: Sequence[str], others: Sequence[Sequence[str]]) -> Kind:
    """Return what a column is that the columns beside it tell from a probe."""
    numbers = _numbers(cells)
    if not numbers:
        return "number"
    low, high = min(numbers), max(numbers)
    moves = any(len(set(_numbers(other))) > 2 for other in others)
    still = low == high and low % SET_STEP == 0 and low != 0
    near = any(_is_near(low, _numbers(other)) for other in others)
    if still and ((len(numbers) >= SET_LINES and moves) or (len(numbers) >= LINES and near)):
        return "set value"
    steps = sorted(abs(b - a) for a, b in pairwise(numbers))
    if len(steps) >= SET_LINES - 1 and steps[len(steps) // 2] > RESTLESS:
        return "output"
    places = min(_places(cell) for cell in cells if cell.strip())
    warm = any(max(_numbers(other), default=0.0) >= WARM for other in others)
    volts = any(least <= low and high <= most for least, most in (BATTERY, SUPPLY))
    if volts and high - low <= BATTERY_SPREAD and warm:
        return "battery" if places >= BATTERY_PLACES else "number"
    fewer = all(_places(cell) < places for other in others for cell in other if cell.strip())
    if places == ACID_PLACES and fewer and ACID[0] <= low and high <= ACID[1]:
        return "other quantity"
    return "number"


def _is_near(value: float, numbers: Sequence[float]) -> bool:
    """Whether a column comes near a value, and is no set value itself."""
    near = any(abs(number - value) <= NEAR for number in numbers)
    return near and any(number % SET_STEP for number in numbers)


def _kind(cells: Sequence[str], *, alone: bool) -> Kind:
    numbers = _numbers(cells)
    if not numbers:
        return "number" if any(cell.strip() for cell in cells) else "blank"
    steps = {round(b - a, 6) for a, b in pairwise(numbers)}
    whole = not any("." in cell or "," in cell for cell in cells)
    if len(numbers) > 2 and min(steps) > 0 and (whole or (len(steps) == 1 and min(steps) >= STEP)):
        return "clock"
    if len(numbers) >= JITTER_LINES and steady_steps(numbers, STEP, JITTER):
        return "clock"
    if not alone and _is_slow_clock(cells, numbers):
        return "clock"
    if whole and not alone:
        return "count"
    if not all(LOWEST <= number <= HIGHEST for number in numbers):
        return "number" if alone else "out of range"
    return "number"


def _is_slow_clock(cells: Sequence[str], numbers: Sequence[float]) -> bool:
    """Whether numbers go up evenly, but for rounding, as minutes or hours with decimals do."""
    places = {_places(cell) for cell in cells}
    if len(numbers) <= LINES or len(places) > 1 or max(places) < CLOCK_PLACES:
        return False
    last_place, first = 10.0 ** -max(places), numbers[0]
    each = (numbers[-1] - first) / (len(numbers) - 1)
    even = all(abs(first + n * each - v) <= 1.05 * last_place for n, v in enumerate(numbers))
    return even and numbers[-1] - first > (len(numbers) - 1) * last_place


def _numbers(cells: Sequence[str]) -> list[float]:
    found = []
    for cell in cells:
        try:
            found.append(float(cell.replace(",", ".").replace(" ", "")))
        except ValueError:
            continue
    return found


def _places(cell: str) -> int:
    """Return how many decimals a number has as printed."""
    return len(cell.strip().replace(",", ".").partition(".")[2])


def _humid(kinds: Sequence[Kind], means: Sequence[float], at: int) -> bool:
    if kinds[at] != "number" or kinds[at + 1] != "number":
        return False
    left, right = means[at], means[at + 1]
    beside = ROOM[0] <= left <= ROOM[1] and HUMID[0] <= right <= HUMID[1]
    return beside and abs(left - right) >= APART


def _humid_first(
    kinds: Sequence[Kind], numbers: Sequence[Sequence[float]], means: Sequence[float]
) -> bool:
    """Whether a humidity stands before the temperature of a room, and neither moves."""
    if kinds[0] != "number" or kinds[1] != "number" or not all(numbers[:2]):
        return False
    beside = DRY[0] <= means[0] <= DRY[1] and INDOORS[0] <= means[1] <= INDOORS[1]
    still = all(max(some) - min(some) <= 2 * MOVES for some in numbers[:2])
    return beside and still and means[0] - means[1] >= APART


def _is_air(numbers: Sequence[Sequence[float]], means: Sequence[float]) -> bool:
    """Whether three columns are temperature, pressure [kPa] and humidity of the air of a room."""
    limits = (INDOORS, AIR_KPA, HUMID)
    inside = all(low <= mean <= high for mean, (low, high) in zip(means, limits, strict=True))
    return inside and all(some and max(some) - min(some) <= 2 * MOVES for some in numbers)
