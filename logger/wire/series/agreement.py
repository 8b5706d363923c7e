"""Does a line say the same of a value in all its numbers?

A thermometer that prints degC and degF, a scale that prints gross, tare and net: where they do not
agree within their last digits, one of them is wrong, and nothing tells which. Pure. Used by
``linefields``; a field says by ``equals`` what its value must come to.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from logger.wire.units import conversion

LAST_DIGITS = 1.01
"""So many units of the last digit numbers may be off: some are rounded and some are cut off."""
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
