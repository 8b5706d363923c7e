"""Does a line say the same of a value in all its numbers?

A thermometer that prints degC and degF, a scale that prints gross, tare and net: where they do not
agree within their last digits, one of them is wrong, and nothing tells which. Pure. Used by
``linefields``, where a field says by ``equals`` what its value must come to, and by ``jsonline``,
where the names of the values say it.
"""

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from logger.wire.shapes.keys import what_in_which_unit
from logger.wire.units import Conversion, conversion

LAST_DIGITS = 1.01
"""So many units of the last digit numbers may be off: some are rounded and some are cut off."""
SINGLE = 1e-6
"""Numbers that a board holds in single precision are off by this part, with more digits printed."""
_TERM = re.compile(r"(?:(?P<sign>[+-]) +)?(?P<group>\w+) (?P<unit>\w+)(?: +|\Z)")


class _Term(NamedTuple):
    """A number of a sum."""

    sign: int
    group: str
    unit: str
    """A unit, or the group that holds it."""


def terms_of(text: str) -> tuple[_Term, ...]:
    """Return the numbers that a value equals the sum of.

    Parameters
    ----------
    text : str
        As written in a shape: ``"f degF"``, ``"gross gu - tare tu"``.

    Raises
    ------
    ValueError
        If it is none.
    """
    found = list(_TERM.finditer(text))
    if not found or "".join(one[0] for one in found) != text:
        raise ValueError(f"{text!r} is no sum of groups, each with its unit")
    return tuple(_Term(-1 if m["sign"] == "-" else 1, m["group"], m["unit"]) for m in found)


def agreement_of(
    quantity: str, group: str, unit: str, sums: Sequence[str]
) -> Callable[[Mapping[str, str | None]], bool]:
    """Return what tells whether the numbers of a line agree.

    Parameters
    ----------
    quantity : str
        ``"mass"``, ``"temperature"`` or ``"emf"``.
    group, unit : str
        Of the value; the unit, or the group that holds it.
    sums : sequence of str
        What it must come to; a sum with a group that took no part is not looked at, nor one whose
        unit nobody knows.
    """
    value = _Term(1, group, unit)
    wanted = [terms_of(text) for text in sums]

    def agrees(said: Mapping[str, str | None]) -> bool:
        mine = _number(value, said, quantity)
        for terms in wanted:
            others = [_number(term, said, quantity) for term in terms]
            known = [one for one in others if one is not None]
            if mine is None or len(known) < len(others):
                continue
            signed = zip(terms, known, strict=True)
            total = sum(term.sign * number for term, (number, _) in signed)
            loose = mine[1] + sum(last for _, last in known)
            if abs(total - mine[0]) > LAST_DIGITS * loose:
                return False
        return True

    return agrees


def _number(
    term: _Term, said: Mapping[str, str | None], quantity: str
) -> tuple[float, float] | None:
    """Return a number and one of its last digit [g, degC or uV]."""
    digits = (said.get(term.group) or "").replace(" ", "").replace(",", ".")
    how = conversion(quantity, (said.get(term.unit, term.unit) or "").strip())
    if not digits or how is None:
        return None
    last = 10.0 ** -len(digits.partition(".")[2])
    return float(digits) * how.factor + how.offset, last * how.factor


def another_says_otherwise(
    found: Any, path: str, quantity: str, number: float, how: Conversion
) -> str:
    """Return the name of a value of an object that is the same in another unit and isn't equal.

    Parameters
    ----------
    found : Any
        The object.
    path : str
        Where the value is, as ``"probes.0.temp_c"``.
    quantity : str
        ``"mass"``, ``"temperature"`` or ``"emf"``.
    number : float
        As sent [a unit of the object].
    how : Conversion
        How it becomes one in g, degC or uV.

    Returns
    -------
    str
        Nothing where all agree.
    """
    mine = number * how.factor + how.offset
    for name, other, unit in _like_it(found, path.split("."), quantity):
        its = conversion(quantity, unit)
        if its is None:
            continue
        largest = max(abs(number) * how.factor, abs(other) * its.factor)
        loose = _last_digit(number) * how.factor + _last_digit(other) * its.factor
        if abs(other * its.factor + its.offset - mine) > LAST_DIGITS * loose + SINGLE * largest:
            return name
    return ""


def _like_it(found: Any, steps: Sequence[str], quantity: str) -> Iterator[tuple[str, float, str]]:
    """Yield name, number and unit of what is named as the value is, but for the unit."""
    for at, step in enumerate(steps):
        if isinstance(found, dict):
            what = what_in_which_unit(step, quantity).what
            for key, other in found.items():
                its = what_in_which_unit(key, quantity)
                if key == step or not its.unit or its.what != what:
                    continue
                number = _reached(other, steps[at + 1 :])
                if number is not None:
                    yield key, number, its.unit
            found = found.get(step)
        elif isinstance(found, list) and step.isdecimal() and int(step) < len(found):
            found = found[int(step)]


def _reached(found: Any, steps: Sequence[str]) -> float | None:
    """Return the number at the end of a path, or None."""
    for step in steps:
        if isinstance(found, dict):
            found = found.get(step)
        elif isinstance(found, list) and step.isdecimal() and int(step) < len(found):
            found = found[int(step)]
        else:
            return None
    number = isinstance(found, int | float) and not isinstance(found, bool)
    return float(found) if number and math.isfinite(found) else None


def _last_digit(number: float) -> float:
    """Return one of the last digit that a number shows."""
    mantissa, _, power = repr(number).partition("e")
    return 10.0 ** (int(power or 0) - len(mantissa.partition(".")[2]))
