"""Text with a unit to a number in the unit the code uses, and back.

The only door for pint on the way in: files and typed values come as ``"42 degC"`` and leave as a
float in the unit that the name of the field says. A text is read by a grammar of its own, at most
40 characters long, and pint only ever sees single names of a closed list: it would work out
``9**9**9`` for as long as it takes. Pure; pint is slow to import and comes at the first use.

quantity = number [unit]; number = decimal with sign and exponent; unit = factor {["*" | "/"]
factor}, from left to right; factor = (name | "(" unit ")") [["^" | "**"] whole power from -3 to 3,
but not 0]. What is measured is written once: ``s degC/min`` and ``g g/g`` are arithmetic, no units;
a plain ratio such as ``g/kg`` is one.
"""

import math
import re
from functools import cache
from typing import Any

from logger.model.errors import InputError
from logger.model.lines import clock_form

LONGEST = 40
"""Longest quantity that is read [characters]."""
_GAP = "[ \\t\u00a0\u202f]*"
"""What may lie between number and unit: blanks of a line, the narrow and fixed ones too."""
_NUMBER = re.compile(
    rf"{_GAP}([-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]{{1,3}})?){_GAP}"
)
_NOT_ZERO = re.compile(r"[-+]?[0.]*[1-9]")
_PRICE = re.compile(rf"{_GAP}([0-9]+(?:\.[0-9]+)?){_GAP}([A-Z]{{3}}){_GAP}/{_GAP}(.+?){_GAP}")
_COMMA = re.compile(rf"({_GAP}[-+]?[0-9]+),([0-9]+)(.*)")
_TOKEN = re.compile(
    rf"{_GAP}(?:(?P<name>%|°[CF]|[A-Za-zµμ]+(?:_[A-Za-z]+)*)"
    rf"|(?P<power>(?:\^|\*\*){_GAP}[-+]?[0-9]+|(?<=[A-Za-z)])-?[0-9]+)|(?P<sign>[*/()])){_GAP}"
)
_MOST_POWER = 3
_SPELLED = {
    "%": "percent",
    "°C": "degC",
    "°F": "degF",
    "C": "degC",
    "F": "degF",
    "celsius": "degC",
    "": "dimensionless",
}
_LIST = """
g kg mg ug µg μg t gram grams kilogram kilograms ounce ounces oz pound pounds lb lbs troy_ounce
toz carat grain stone tonne
s ms us µs μs ns min h hr d day days week weeks second seconds sec minute minutes hour hours
m km cm mm um µm μm nm dm inch inches in foot feet ft yard metre metres meter meters
millimetre millimetres millimeter millimeters centimetre centimetres centimeter centimeters
l L dl dL cl cL ml mL ul uL litre litres liter liters millilitre millilitres milliliter
milliliters cup teaspoon tablespoon
degC degF K kelvin delta_degC delta_degF
Pa hPa kPa MPa mPa bar mbar atm psi mmHg inHg torr
J kJ MJ mJ cal kcal Wh kWh W kW mW N kN mN V kV mV uV µV μV A mA Hz kHz
mol mmol umol µmol μmol kmol Da P cP poise centipoise
percent ppm permille dimensionless
"""
_NAMES = frozenset(_LIST.split())
_DELTAS = {"degC": "delta_degC", "degF": "delta_degF"}
_TEMPERATURES = ("degC", "delta_degC")
_ABSOLUTE_ZERO_C = -273.15
_MOST_POURED_ML = 100_000.0
"""Volumes below this are likely ones of a kitchen."""
PRICE_WANTED = "write for example '14.20 EUR/kg'"

Unit = dict[str, int]
"""Whole powers by pint's name; none of them 0."""


@cache
def registry() -> Any:
    """Return the one unit registry of the program (pint)."""
    import pint

    ureg: Any = pint.UnitRegistry(cache_folder=None)
    ureg.formatter.default_format = "~P"
    return ureg


@cache
def _root(name: str) -> tuple[float, tuple[tuple[str, int], ...]]:
    """Return factor and powers of a name of the list in pint's root units."""
    ureg = registry()
    found = ureg.Quantity(1.0, ureg.Unit(_DELTAS.get(name, name))).to_root_units()
    powers = found.unit_items()
    return float(found.magnitude), tuple(sorted((str(k), int(v)) for k, v in powers))


@cache
def _standard(name: str) -> str:
    """Return pint's own word for a name of the list, the same for all spellings of a unit."""
    return str(next(iter(registry().Quantity(1.0, name).unit_items()))[0])


def unit_of(text: str) -> Unit:
    """Return what a unit is made of.

    Parameters
    ----------
    text : str
        A unit such as ``"g"``, ``"mPa s"`` or ``"W/(m2 K)"``; empty is dimensionless.

    Raises
    ------
    ValueError
        If it is no unit of the grammar, or has a name that is not known.
    """
    if len(text) > LONGEST:
        raise ValueError(f"{_short(text)} is too long for a unit, {LONGEST} characters at most")
    if not text.strip():
        return {}
    tokens = _tokens(text)
    names = [_SPELLED.get(token, token) for kind, token in tokens if kind == "name"]
    found = _product(tokens, text)
    if tokens:
        raise ValueError(f"{text!r} is not a unit")
    _require_once(names, found, text)
    return found


def _require_once(names: list[str], found: Unit, text: str) -> None:
    """Refuse names of which two measure the same, or one a share, unless they are a plain ratio."""
    if len(names) < 2:
        return
    measured = [_root(name)[1] for name in names]
    turned = [tuple((root, -power) for root, power in powers) for powers in measured]
    twice = any(
        one in (other, back)
        for place, one in enumerate(measured)
        for other, back in zip(measured[:place], turned[:place], strict=True)
    )
    ratio = len(names) == 2 and measured[0] == measured[1] and not sum(found.values())
    warm = any(name in _DELTAS for name in names)
    if () in measured or (twice and (warm or not ratio)):
        raise ValueError(f"{text!r} is not a unit: it has the same thing twice")


def _tokens(text: str) -> list[tuple[str, str]]:
    """Return kind and text of each token, the first one last."""
    found, place = [], 0
    while place < len(text):
        match = _TOKEN.match(text, place)
        if match is None:
            raise ValueError(f"{text!r} is not a unit")
        found.append((str(match.lastgroup), match[str(match.lastgroup)]))
        place = match.end()
    return found[::-1]


def _product(tokens: list[tuple[str, str]], text: str) -> Unit:
    found = _factor(tokens, text)
    while tokens and tokens[-1] != ("sign", ")"):
        sign = -1 if tokens[-1] == ("sign", "/") else 1
        if tokens[-1] in (("sign", "/"), ("sign", "*")):
            tokens.pop()
        for name, power in _factor(tokens, text).items():
            found[name] = found.get(name, 0) + sign * power
    return {name: power for name, power in found.items() if power}


def _factor(tokens: list[tuple[str, str]], text: str) -> Unit:
    kind, token = tokens.pop() if tokens else ("end", "")
    if (kind, token) == ("sign", "("):
        found = _product(tokens, text)
        if not tokens or tokens.pop() != ("sign", ")"):
            raise ValueError(f"{text!r} has an open bracket")
    elif kind == "name":
        name = _SPELLED.get(token, token)
        if name not in _NAMES:
            raise ValueError(f"{token!r} is not a known unit")
        found = {} if name == "dimensionless" else {_standard(name): 1}
    else:
        raise ValueError(f"{text!r} is not a unit")
    if tokens and tokens[-1][0] == "power":
        power = int(tokens.pop()[1].lstrip("^* "))
        if not 0 < abs(power) <= _MOST_POWER:
            raise ValueError(f"{text!r} has a power that is 0 or beyond {_MOST_POWER}")
        found = {name: was * power for name, was in found.items()}
    return found


def number_in(text: str, unit: str) -> float:
    """Read a quantity such as ``"42 degC"`` as a number in ``unit``.

    Parameters
    ----------
    text : str
        A number and a unit, at most 40 characters; the unit may be left out only where `unit` is
        dimensionless.
    unit : str
        The unit wanted. ``"delta_degC"`` reads a temperature difference, written in K or degC.

    Returns
    -------
    float
        The number in `unit`.

    Raises
    ------
    ValueError
        If the text is no quantity, its unit does not measure the same thing, or the number is
        beyond what a float holds.
    """
    match = _NUMBER.match(text) if len(text) <= LONGEST else None
    if match is None:
        what = "a number" if unit == "dimensionless" else "a number with a unit"
        raise ValueError(f"{_short(text)} is not {what}; {_as_in(unit)}")
    number, spelled = float(match[1]), text[match.end() :]
    if not spelled and unit not in ("dimensionless", "percent"):
        raise ValueError(f"{text!r} has no unit; {_as_in(unit, match[1])}")
    try:
        found = unit_of(spelled or ("percent" if unit == "percent" else ""))
        if unit in _TEMPERATURES and len(_tokens(spelled)) != 1:
            raise ValueError("a product is not a temperature")
        value = _converted(number, found, unit_of(unit)) + 0.0  # no -0
    except ValueError as cause:
        raise ValueError(_meant(text, unit)) from cause
    lost = value == 0.0 and number == 0.0 and _NOT_ZERO.match(match[1]) is not None
    if not math.isfinite(value) or lost:
        raise ValueError(f"{text!r} is too large a number; {_as_in(unit)}")
    if unit == "degC" and value < _ABSOLUTE_ZERO_C:
        raise ValueError(f"{text!r} is below absolute zero; {_as_in(unit)}")
    return value


def quantity_at(where: str, text: str, unit: str) -> float:
    """Read a quantity that a person typed; what is wrong with it is said with its right form.

    Parameters
    ----------
    where : str
        What the person calls the place, such as an option.
    text : str
        A number and a unit.
    unit : str
        The unit wanted, as `number_in` takes it.

    Returns
    -------
    float
        The number in `unit`.

    Raises
    ------
    InputError
        If the text is no such quantity.
    """
    try:
        return number_in(text, unit)
    except ValueError as cause:
        found, _, wanted = str(cause).partition("; ")
        raise InputError(where, found, wanted) from cause


def _as_in(unit: str, number: str = "") -> str:
    return f"write for example {example(unit, number)!r}"


def _meant(text: str, unit: str) -> str:
    """Say what is wrong with a number in another unit, and what the person may have meant."""
    if comma := _COMMA.fullmatch(text):
        whole, part, rest = comma.groups()
        forms = [f"{whole}.{part}{rest}"]
        if len(part) == 3 and whole.lstrip("-+0 "):
            decimals = part.rstrip("0")
            forms = [f"{whole}{'.' if decimals else ''}{decimals}{rest}", f"{whole}{part}{rest}"]
        wanted = _read_or_said(forms, unit)
        return f"{text!r} has a decimal comma; {wanted}"
    clock = clock_form(text)
    if clock is not None and unit == "s":
        return f"{text!r} has no unit; for minutes and seconds write {clock!r}"
    if unit == "g":
        try:
            volume_ml = number_in(text, "ml")
        except ValueError:
            pass
        else:
            wanted = f"weigh it and write its mass, such as {example(unit)!r}"
            if 0.0 < volume_ml < _MOST_POURED_ML:
                water = example(unit, f"{volume_ml:g}")
                wanted = f"weigh it and write its mass, for water that is about {water!r}"
            return f"{text!r} is a volume; {wanted}"
    return f"{text!r} is not in a unit that fits; {_as_in(unit)}"


def _read_or_said(forms: list[str], unit: str) -> str:
    """Offer those forms that read; else what to write in place of the first."""
    try:
        for form in forms:
            number_in(form, unit)
    except ValueError as cause:
        return str(cause).partition("; ")[2]
    return "write " + " or ".join(repr(form.strip()) for form in forms)


def _short(text: str) -> str:
    return repr(text) if len(text) <= LONGEST else f"{text[:LONGEST]!r}..."


def _converted(value: float, unit: Unit, to: Unit) -> float:
    if unit == to:
        return value
    if list(to.items()) == [("delta_degree_Celsius", 1)]:
        unit = _as_delta(unit)
    single = len(unit) == len(to) == 1 and {*unit.values(), *to.values()} == {1}
    if single:
        (one,), (other,) = unit, to
        try:
            return float(registry().Quantity(value, one).to(other).magnitude)
        except Exception as cause:  # pint raises many kinds; each means the same here
            raise ValueError(f"{one} does not measure what {other} does") from cause
    factor, powers = _rooted(_as_delta(unit))
    to_factor, to_powers = _rooted(_as_delta(to))
    if powers != to_powers:
        raise ValueError("the units do not measure the same thing")
    return value * (factor / to_factor)


def _as_delta(unit: Unit) -> Unit:
    """Return a unit with differences where it has degrees: ``J/degC`` is ``J/K``."""
    swapped = {_standard(degree): _standard(delta) for degree, delta in _DELTAS.items()}
    return {swapped.get(name, name): power for name, power in unit.items()}


def _rooted(unit: Unit) -> tuple[float, dict[str, int]]:
    """Return factor and powers in root units; offsets of temperatures are not heard here."""
    factor, powers = 1.0, dict[str, int]()
    for name, power in unit.items():
        one, parts = _root(name)
        factor *= one**power
        for root, root_power in parts:
            powers[root] = powers.get(root, 0) + root_power * power
    return factor, {root: power for root, power in powers.items() if power}


def price_per_kg(text: str) -> tuple[float, str]:
    """Read a price such as ``"14.20 EUR/kg"`` as (price per kg, currency code).

    Raises
    ------
    ValueError
        If the text is no price per mass.
    """
    match = _PRICE.fullmatch(text) if len(text) <= LONGEST else None
    if match is None:
        plain = _COMMA.sub(r"\1.\2\3", text).replace("€", "EUR") if len(text) <= LONGEST else ""
        wanted = f"write {plain!r}" if _PRICE.fullmatch(plain) else PRICE_WANTED
        raise ValueError(f"{_short(text)} is not a price per mass; {wanted}")
    try:
        per_unit_kg = _converted(1.0, unit_of(match[3]), unit_of("kg"))
    except ValueError as cause:
        raise ValueError(f"{text!r} is not a price per mass; {PRICE_WANTED}") from cause
    return float(match[1]) / per_unit_kg, match[2]


def convert(value: float, unit: str, to: str) -> float:
    """Convert a number between two units that measure the same thing.

    Parameters
    ----------
    value : float
        Number in the unit `unit`.
    unit, to : str
        Units of the grammar; they must measure the same thing.

    Returns
    -------
    float
        Number in the unit `to`.

    Raises
    ------
    ValueError
        If a unit is not known, or they do not measure the same thing.
    """
    return _converted(value, unit_of(unit), unit_of(to))


_EXAMPLES = {
    "degC": "42 degC",
    "delta_degC": "2 K",
    "g": "180 g",
    "s": "8 min",
    "percent": "1.5 %",
    "mm": "26 mm",
    "g/min": "90 g/min",
    "kPa": "98.2 kPa",
    "m": "340 m",
    "J/K": "210 J/K",
    "dimensionless": "1.5",
}


def example(unit: str, number: str = "") -> str:
    """Return an example of a quantity in `unit`, for messages; of a number if one is given."""
    shown = _EXAMPLES.get(unit, f"1 {unit}")
    return f"{number} {shown.partition(' ')[2]}".rstrip() if number else shown
