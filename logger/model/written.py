"""Building blocks for the files that people write: fields with units, and bands.

Used by ``bench`` and ``sheet``. A field reads text with a unit and holds a float in the unit that
its name says; the key in the file is the name without the unit.
"""

import math
import re
from typing import Annotated, Any, ClassVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    ValidationInfo,
    field_validator,
    model_serializer,
)

from logger.model.lines import clock_form
from logger.model.quantity import example, number_in

BY_HAND = "by hand"
"""Key of the context under which a file that a person wrote is read: every quantity then needs its
unit, and what cannot be is refused. A frozen copy holds plain numbers and always reads."""

_SPAN = re.compile(
    r"\s*([0-9][0-9.:]*)\s*(?:-|–|to|\.\.+)\s*([0-9][0-9.:]*)\s*((?:[^0-9].{0,12})?)"
)
_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_ENDINGS = (
    ("_g_min", "g/min"),
    ("_g_ml", "g/ml"),
    ("_j_k", "J/K"),
    ("_percent", "%"),
    ("_masses_g", "g"),
    ("_mm", "mm"),
    ("_g", "g"),
    ("_c", "degC"),
    ("_k", "K"),
    ("_s", "s"),
)
"""Units of the files by the ending of a field's name."""

_HIDDEN = re.compile("[\\x00-\\x1f\\x7f-\\x9f\\u061c\\u200e\\u200f\\u2028-\\u202e\\u2066-\\u2069]")
"""Control characters, and those that turn the direction of what follows."""

ABSOLUTE_ZERO_C = -273.15
_COLDEST_C = -100.0
"""Lowest target that a sheet may have [degC]; dry ice lies at -78.5 degC."""
_NEVER_NEGATIVE = {
    "s": "a time",
    "g": "a mass",
    "g/min": "a rate",
    "%": "a share",
    "mm": "a length",
}


class Written(BaseModel):
    """Base of all tables of a file: unknown keys are refused, values are frozen."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False
    )

    @field_validator("id", "name", "product", mode="before", check_fields=False)
    @classmethod
    def _can_be_shown(cls, value: Any, info: ValidationInfo) -> Any:
        hidden = _HIDDEN.search(value) if isinstance(value, str) and by_hand(info) else None
        if hidden is not None:
            raise ValueError(f"a hidden character (U+{ord(hidden[0]):04X}); take it out")
        return value


class Sparse(Written):
    """A table whose fields in `later` are left out of a frozen copy while they are as by default.

    A sheet that says nothing of them keeps the copy, and so the fingerprint, that it always had.
    """

    later: ClassVar[frozenset[str]] = frozenset()

    @model_serializer(mode="wrap")
    def _without_defaults(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        found: dict[str, Any] = handler(self)
        for name, info in type(self).model_fields.items():
            if name in self.later and getattr(self, name) == info.get_default(
                call_default_factory=True
            ):
                found.pop(name, None)
                found.pop(info.alias or name, None)
        return found


class AtKeyError(ValueError):
    """Something is wrong at a key that only the whole table can judge.

    Parameters
    ----------
    key : str
        Path below the table that is judged, counted from one: ``ingredient[2].amount``.
    found : str
        What was found there.
    wanted : str
        What would do.
    """

    def __init__(self, key: str, found: str, wanted: str) -> None:
        super().__init__(f"{key}: {found}; {wanted}")
        self.key, self.found, self.wanted = key, found, wanted


def quantity(unit: str) -> BeforeValidator:
    """Return a validator that reads text with a unit as a number in `unit`."""

    def read(value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, str):
            return number_in(value, unit)
        if value is not None and by_hand(info):
            shown = example(unit, f"{value}" if _plain(value) else "")
            raise ValueError(f"{value!r} has no unit; write for example {shown!r}")
        return value

    return BeforeValidator(read)


def by_hand(info: ValidationInfo) -> bool:
    """Return whether what is read is a file that a person wrote, not a frozen copy."""
    return bool(info.context) and BY_HAND in (info.context or {})


def field_unit(name: str) -> str | None:
    """Return the unit that the name of a field ends in, or None where it has none."""
    return next((unit for ending, unit in _ENDINGS if name.endswith(ending)), None)


TempC = Annotated[float, quantity("degC"), Field(ge=-273.15)]
DeltaK = Annotated[float, quantity("delta_degC")]
MassG = Annotated[float, quantity("g")]
DurationS = Annotated[float, quantity("s"), Field(ge=0)]
LengthMm = Annotated[float, quantity("mm"), Field(gt=0)]
Percent = Annotated[float, quantity("percent")]
PressureKpa = Annotated[float, quantity("kPa"), Field(gt=0)]
AltitudeM = Annotated[float, quantity("m")]
DensityGMl = Annotated[float, quantity("g/ml"), Field(ge=0.1, le=5.0)]
HeatCapacityJK = Annotated[float, quantity("J/K"), Field(gt=0)]


class Band(BaseModel):
    """A target band; either end may be open.

    Attributes
    ----------
    low, high : float or None
        In `unit`.
    unit : str
        Unit of both ends, as in ``Number.unit``.
    source : str
        ``"sheet"`` or, for a default, where it comes from.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    low: float | None = None
    high: float | None = None
    unit: str
    source: str = "sheet"


def band_in(unit: str, shown: str) -> BeforeValidator:
    """Return a validator that reads ``{low = "44 degC", high = "58 degC"}``."""

    like = f'write for example {{ low = "{example(unit)}" }}'

    def read(value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, Band):
            return value
        if not isinstance(value, dict):
            if by_hand(info):
                raise ValueError(f"{value!r} is not a band; {_as_band(value, unit)}")
            return value
        band: dict[str, Any] = {"unit": shown}
        for key, text in value.items():
            if key in ("low", "high"):
                band[key] = _end(key, text, unit, info)
            elif key in ("unit", "source"):
                band[key] = shown if key == "unit" else text
            else:
                raise ValueError(f"unknown key {key!r}; a band has low, high or both")
        ends = [end for end in (band.get("low"), band.get("high")) if end is not None]
        if not ends:
            raise ValueError(f"a band needs low, high or both; {like}")
        if by_hand(info) or shown == "s":
            _can_be(ends, shown)
        if len(ends) == 2 and ends[0] > ends[1]:
            raise ValueError(
                f"low ({ends[0]:g} {shown}) is above high ({ends[1]:g} {shown}); swap them"
            )
        return band

    return BeforeValidator(read)


def _end(key: str, text: Any, unit: str, info: ValidationInfo) -> float | None:
    if isinstance(text, str):
        return number_in(text, unit)
    if text is None:
        return None
    if _plain(text) and not by_hand(info):
        return float(text)
    shown = example(unit, f"{text}" if _plain(text) else "")
    raise ValueError(f"{key} = {text!r} has no unit; write for example {shown!r}")


def _plain(value: Any) -> bool:
    """Return whether a value is a number, not the digits of one."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _as_band(value: Any, unit: str) -> str:
    """Return the band that a person may have meant by one text, else an example."""
    text = _COMMA.sub(".", value) if isinstance(value, str) else ""
    span = _SPAN.fullmatch(text)
    ends = [f"{span[1]} {span[3]}", f"{span[2]} {span[3]}"] if span else [text]
    if unit == "s":
        ends = [clock_form(end) or end for end in ends]
    try:
        for end in ends:
            number_in(end, unit)
    except ValueError:
        ends = [example(unit)]
    high = f', high = "{ends[1]}"' if len(ends) == 2 else ""
    return f'write for example {{ low = "{ends[0]}"{high} }}'


def _can_be(ends: list[float], shown: str) -> None:
    """Refuse the ends of a band that nothing can reach."""
    lowest, highest = min(ends), max(ends)
    if lowest < 0.0 and shown in _NEVER_NEGATIVE:
        raise ValueError(f"{lowest:g} {shown} is below 0; {_NEVER_NEGATIVE[shown]} cannot be")
    if shown == "degC" and lowest < ABSOLUTE_ZERO_C:
        raise ValueError(f"{lowest:g} degC is below absolute zero; {ABSOLUTE_ZERO_C:g} at least")
    if shown == "degC" and lowest < _COLDEST_C:
        found = f"{lowest:.4g} degC is colder than any kitchen"
        raise ValueError(f"{found}; write the temperature in degC, such as '47 degC'")
    if shown == "%" and highest > 100.0:
        raise ValueError(f"{highest:g} % is more than the whole; 100 % at most")
    if not all(math.isfinite(end) for end in ends):
        raise ValueError("a limit that is not a number; write one")


TempBand = Annotated[Band, band_in("degC", "degC")]
DeltaBand = Annotated[Band, band_in("delta_degC", "K")]
MassBand = Annotated[Band, band_in("g", "g")]
DurationBand = Annotated[Band, band_in("s", "s")]
PercentBand = Annotated[Band, band_in("percent", "%")]
RateBand = Annotated[Band, band_in("g/min", "g/min")]
LengthBand = Annotated[Band, band_in("mm", "mm")]
