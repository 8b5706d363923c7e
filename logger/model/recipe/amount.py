"""How much of an ingredient, as a cook writes it: a mass, a volume, a percent, a range, to taste.

Pure. What a percent is of is always written: nobody guesses it.
"""

import re
from dataclasses import dataclass
from typing import Literal

from logger.model.quantity import LONGEST, number_in

Whole = Literal["batch", "phase", "base", "subrecipe"]
"""What a percent may be of. The base is what baker's percents are of: flour, or the meat."""
WHOLES: tuple[Whole, ...] = ("batch", "phase", "base", "subrecipe")

_TO_TASTE = "to taste"
_PERCENT = re.compile(r"(?P<span>[^%]*?)\s*(?:%|percent)\s*(?:of\s+(?:the\s+)?(?P<of>.+))?")
_BAKERS = re.compile(r"(?P<span>.*?)\s*baker['’]?s['’]?\s*(?:%|percent)")
_RANGE = re.compile(
    r"\s*(?P<low>[0-9][0-9.]*)\s*(?P<unit>[^0-9\s.–-]*)\s*(?:-|–|\bto\b|\.\.+)\s*"
    r"(?P<high>[0-9][0-9.]*)\s*(?P<rest>[^0-9]*)"
)
_BARE = re.compile(r"\s*[0-9]+(?:\.[0-9]+)?\s*")
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_ZEROS = re.compile(r"(\.\d*?[1-9]|)\.?0+(?!\d|\.)")
_WANTED = "write for example '180 g', '120 ml', '4 to 6 g', '1.5 % of batch' or 'to taste'"
_MOST_OF_BASE = 1000.0
"""Most percent of a base; water alone comes to a few hundred."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """How much of something.

    Attributes
    ----------
    low, high : float
        Its ends in `unit`, the same unless it is a range; 0 to taste.
    unit : str
        ``"g"``, ``"ml"`` or ``"%"``; empty to taste.
    of : str or None
        What a percent is of.
    """

    low: float
    high: float
    unit: Literal["g", "ml", "%", ""]
    of: Whole | None = None

    @property
    def middle(self) -> float:
        """What is counted with, in `unit`."""
        return self.low if self.low == self.high else (self.low + self.high) / 2.0

    @property
    def reach_percent(self) -> float | None:
        """How far a range goes to either side of its middle [%]; None for a single amount."""
        if self.low == self.high:
            return None
        return float(f"{100.0 * (self.high - self.low) / (self.high + self.low):.10g}")

    @property
    def to_taste(self) -> bool:
        """Whether nobody says how much."""
        return self.unit == ""


def amount_of(text: str) -> Amount:
    """Read an amount.

    Parameters
    ----------
    text : str
        Such as ``"180 g"``, ``"120 ml"``, ``"4 to 6 g"``, ``"1.5 % of phase"``, ``"to taste"``.

    Raises
    ------
    ValueError
        If it is none; with what was found and the right form of it.
    """
    if len(text) > LONGEST:
        raise ValueError(f"{text[:LONGEST]!r}... is too long for an amount; {_WANTED}")
    if text.strip().casefold() == _TO_TASTE:
        return Amount(low=0.0, high=0.0, unit="")
    if _COMMA.search(text):
        raise ValueError(f"{text!r} has a decimal comma; {_with_points(text)}")
    bakers, percent = _BAKERS.fullmatch(text), _PERCENT.fullmatch(text)
    if bakers is not None:
        return _spanned(bakers["span"], text, "%", "base")
    if percent is not None:
        return _spanned(percent["span"], text, "%", _whole(percent["of"], text))
    return _spanned(text, text, "g", None)


def comma_forms(text: str) -> list[str]:
    """Return what an amount with a comma may mean: a decimal, or a thousand; none without one.

    Parameters
    ----------
    text : str
        Such as ``"1,500 g"``: 1.5 g or 1500 g. Without a unit it is taken for grams.
    """
    if not _COMMA.search(text):
        return []
    forms = [_COMMA.sub(".", text)]
    if re.search(r"(?<=[1-9]),\d{3}(?!\d)", text):
        forms = [_ZEROS.sub(r"\1", forms[0]), _COMMA.sub("", text)]
    if all(_BARE.fullmatch(form) for form in forms):
        forms = [f"{form.strip()} g" for form in forms]
    return forms


def _with_points(text: str) -> str:
    forms = comma_forms(text)
    example = "for example " if _BARE.fullmatch(_COMMA.sub("", text)) else ""  # any unit would do
    for form in forms:
        amount_of(form)
    return f"write {example}" + " or ".join(repr(form) for form in forms)


def _whole(of: str | None, text: str) -> Whole:
    said = (of or "").strip().casefold()
    for whole in WHOLES:
        if said in (whole, whole.replace("sub", "sub-")):
            return whole
    plain = text.partition("%")[0].strip()
    forms = ", ".join(f"'{plain} % of {whole}'" for whole in WHOLES)
    found = f"is of {said!r}, which is none of these" if said else "does not say of what"
    raise ValueError(f"{text!r} {found}; write {forms}")


def _spanned(span: str, text: str, unit: Literal["g", "%"], of: Whole | None) -> Amount:
    ends = _RANGE.fullmatch(span)
    if ends is None:
        parts, spelled = [span], ""
    else:
        parts, spelled = [ends["low"], ends["high"]], ends["rest"].strip()
        if ends["unit"] and ends["unit"] != spelled and unit == "g":
            raise ValueError(f"{text!r} has two units; write both ends in one, such as '4 to 6 g'")
    kind: Literal["g", "ml", "%"] = unit
    if unit == "%":
        numbers = [number_in(f"{part} %", "percent") for part in parts]
    else:
        written = [f"{part} {spelled}".strip() for part in parts]
        kind = "ml" if _is_volume(written[0]) else "g"
        numbers = [_number(one, kind) for one in written]
    low, high = numbers[0], numbers[-1]
    if low > high:
        raise ValueError(f"{text!r} goes down; write the smaller end first")
    most = _MOST_OF_BASE if of == "base" else 100.0
    if not low > 0.0:
        raise ValueError(f"{text!r} is nothing; write an amount above 0, or take it out")
    if unit == "%" and high > most:
        raise ValueError(f"{text!r} is more than all; {most:g} % at most")
    return Amount(low=low, high=high, unit=kind, of=of)


def _is_volume(text: str) -> bool:
    try:
        number_in(text, "ml")
    except ValueError:
        return False
    return True


def _number(text: str, unit: Literal["g", "ml"]) -> float:
    try:
        return number_in(text, unit)
    except ValueError as cause:
        found = str(cause).partition("; ")[0]
        wanted = _WANTED
        if _BARE.fullmatch(text):
            plain = text.strip()
            wanted = f"write for example '{plain} g', '{plain} ml' or '{plain} % of batch'"
        raise ValueError(f"{found}; {wanted}") from cause
