"""Building blocks for the files that people write: fields with units, and bands.

Used by ``bench`` and ``sheet``. A field reads text with a unit and holds a float in the unit that
its name says; the key in the file is the name without the unit.
"""

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from logger.model.quantity import number_in


class Written(BaseModel):
    """Base of all tables of a file: unknown keys are refused, values are frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


def quantity(unit: str) -> BeforeValidator:
    """Return a validator that reads text with a unit as a number in `unit`."""

    def read(value: Any) -> Any:
        return number_in(value, unit) if isinstance(value, str) else value

    return BeforeValidator(read)


TempC = Annotated[float, quantity("degC"), Field(ge=-273.15)]
DeltaK = Annotated[float, quantity("delta_degC")]
MassG = Annotated[float, quantity("g")]
DurationS = Annotated[float, quantity("s"), Field(ge=0)]
LengthMm = Annotated[float, quantity("mm"), Field(gt=0)]
Percent = Annotated[float, quantity("percent")]
PressureKpa = Annotated[float, quantity("kPa"), Field(gt=0)]
AltitudeM = Annotated[float, quantity("m")]
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

    model_config = ConfigDict(extra="forbid", frozen=True)

    low: float | None = None
    high: float | None = None
    unit: str
    source: str = "sheet"


def band_in(unit: str, shown: str) -> BeforeValidator:
    """Return a validator that reads ``{low = "44 degC", high = "58 degC"}``."""

    def read(value: Any) -> Any:
        if isinstance(value, Band) or not isinstance(value, dict):
            return value
        band: dict[str, Any] = {"unit": shown}
        for key, text in value.items():
            if key in ("low", "high"):
                number = number_in(text, unit) if isinstance(text, str) else text
                band[key] = number
            elif key == "unit":
                continue
            else:
                band[key] = text
        low, high = band.get("low"), band.get("high")
        if low is None and high is None:
            raise ValueError("a band needs low, high or both")
        if shown == "s" and min(end for end in (low, high) if end is not None) < 0:
            raise ValueError("a time cannot be negative")
        if low is not None and high is not None and low > high:
            raise ValueError(f"low ({low:g} {shown}) lies above high ({high:g} {shown})")
        return band

    return BeforeValidator(read)


TempBand = Annotated[Band, band_in("degC", "degC")]
DeltaBand = Annotated[Band, band_in("delta_degC", "K")]
MassBand = Annotated[Band, band_in("g", "g")]
DurationBand = Annotated[Band, band_in("s", "s")]
PercentBand = Annotated[Band, band_in("percent", "%")]
RateBand = Annotated[Band, band_in("g/min", "g/min")]
LengthBand = Annotated[Band, band_in("mm", "mm")]
