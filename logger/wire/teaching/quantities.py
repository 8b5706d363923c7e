"""Do the lines themselves say another quantity or another unit than somebody said?

Pure; looks at what stands behind the numbers of a lesson. Used by ``taught``.
"""

from collections.abc import Collection, Sequence
from itertools import pairwise

from logger.model.errors import InputError
from logger.wire.teaching.lines import Sorted
from logger.wire.teaching.pattern import unit_place
from logger.wire.teaching.tokens import Token, key_of, numbers_at
from logger.wire.units import conversion, quantity_of

OTHER_UNITS = frozenset((
    "hPa", "mbar", "bar", "kPa", "psi", "mm", "cm", "ml", "mL", "mV", "mA", "Hz", "rpm", "RPM",
    "min", "pH", "PCS", "pcs", "pc", "rH", "RH", "kgf", "gf", "Nm", "ppm", "lux", "dB", "mS", "uS",
    "ohm", "Ohm",
))  # fmt: skip
"""Units of other quantities; single letters are states as often."""
GOES_ON = ("/", "*", "^", "²", "·")
"""Behind a unit one of these makes another unit of it: g/s, kg*cm."""
_IN_NAMES = {"c": "C", "f": "F", "k": "K", "g": "g", "kg": "kg", "oz": "oz", "lb": "lb"}
"""Units as they end a name: temp_c."""


def refuse_other_units(found: Sorted, said: Collection[str]) -> None:
    """Refuse a lesson that the lines contradict.

    Parameters
    ----------
    found : Sorted
        The lines and their values.
    said : collection of str
        Units that somebody gave.

    Raises
    ------
    InputError
        If the unit behind a number goes on, is one of another quantity, is blank in the line shown
        and printed in others, or stands elsewhere in the line as another one.
    """
    model = found.tokens[found.places[0].line]
    for place in found.places:
        number = numbers_at(model)[place.number]
        at = unit_place(model, number)
        if at >= 0:
            if _text(model, at + 1) in GOES_ON and _kind(model, at + 2) in ("word", "number"):
                unit = f"{model[at].text}{_text(model, at + 1)}{_text(model, at + 2)}"
                raise InputError("unit", f"the lines say {unit}", "mark another number")
            continue
        behind = _text(model, number + 1).strip() or _text(model, number + 2)
        if behind in OTHER_UNITS or behind == "%":
            raise InputError("unit", f"the lines say {behind}", "mark another number")
        if _printed_elsewhere(found, model):
            raise InputError(
                "lines", "the line shown has no unit, others have one", "show one with its unit"
            )
        _refuse_named(model, said)


def _printed_elsewhere(found: Sorted, model: Sequence[Token]) -> bool:
    """Whether other lines are like the model line, but for a unit behind a number."""
    bare = _without_units(model)
    return any(
        _without_units(tokens) == bare and any(t.kind == "unit" for t in tokens)
        for tokens in found.tokens
        if not any(t.kind == "unit" for t in model)
    )


def _without_units(tokens: Sequence[Token]) -> tuple[str, ...]:
    return tuple(part for part in key_of(tokens) if part not in ("unit", " "))


def _refuse_named(model: Sequence[Token], said: Collection[str]) -> None:
    """Refuse a unit that another one in the line contradicts, as in a name that ends in _c."""
    named = [token.text for token in model if token.kind == "unit"]
    named += [
        _IN_NAMES[token.text]
        for before, token in pairwise(model)
        if before.text == "_" and token.text in _IN_NAMES
    ]
    for one in said:
        for other in named:
            quantity = quantity_of(other)
            if quantity is None or quantity != quantity_of(one):
                continue
            if conversion(quantity, other) != conversion(quantity, one):
                raise InputError("unit", f"the lines say {other}, not {one}", "say the same")


def _text(tokens: Sequence[Token], at: int) -> str:
    return tokens[at].text if at < len(tokens) else ""


def _kind(tokens: Sequence[Token], at: int) -> str:
    return tokens[at].kind if at < len(tokens) else ""
