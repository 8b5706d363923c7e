"""What every stage of a batch sheet has, and the shape of the pieces that several kinds share.

Plain data, validated; the kinds are the modules beside this one.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from logger.model.written import DurationS, LengthMm, Sparse, TempBand, Written

COMMON_PRACTICE = "common practice, no source"

Count = Annotated[int, Field(strict=True, gt=0, le=500)]
"""A number of pieces."""


class Piece(Written):
    """Shape and bare size of the formed pieces."""

    body: Literal["cylinder", "sphere", "patty"]
    diameter_mm: Annotated[LengthMm, Field(alias="diameter")]
    length_mm: Annotated[LengthMm | None, Field(alias="length")] = None
    """Overall length with round ends (cylinder) or thickness (patty)."""

    @model_validator(mode="after")
    def _has_length(self) -> "Piece":
        if self.body != "sphere" and self.length_mm is None:
            raise ValueError(f"a {self.body} needs a length")
        if self.body == "cylinder" and (self.length_mm or 0.0) < self.diameter_mm:
            raise ValueError(
                "a cylinder with round ends is at least as long as it is thick: length "
                f"{self.length_mm:g} mm, diameter {self.diameter_mm:g} mm"
            )
        return self


class StageBase(Sparse):
    """What every stage has."""

    later = frozenset({"text", "equipment", "speed", "pan_temp_c", "oil_temp_c"})

    id: str = Field(pattern=r"[a-z0-9_-]+")
    title: str = ""
    planned_s: Annotated[DurationS | None, Field(alias="planned")] = None
    """Planned length."""
    ends: Literal["operator", "sheet", "bench"] = "operator"
    """Who ends it: the operator, the sheet's rule (its time is up or all checks are met), or what
    the bench sees (as a proposal)."""
    text: Annotated[str, Field(max_length=2_000)] = ""
    """What to do, in words."""
    equipment: Annotated[list[str], Field(max_length=20)] = []
    speed: Annotated[str, Field(max_length=60)] = ""
    """As the machine has it: ``1200 rpm``, ``speed 4 of 10``."""
    pan_temp_c: Annotated[TempBand | None, Field(alias="pan_temp")] = None
    """Of the pan; for the cook: no sensor judges it."""
    oil_temp_c: Annotated[TempBand | None, Field(alias="oil_temp")] = None
    """Of the oil that it is fried in; likewise."""
