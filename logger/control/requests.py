"""What a client may ask of the recorder: one model for each request, checked at the door.

Pure. ``door`` turns the plain data of a request into one of these models, so that nothing
behind it meets a type or a size that nobody looked at. Used by the recorder's threads of the
control line; the client sends plain data.
"""

import base64
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from logger.control.messages import MAX_NOTE
from logger.model.photos.jpeg import MOST_BYTES, require_kept_form
from logger.model.photos.row import photo_data
from logger.model.quantity import convert

Count = Annotated[int, Field(ge=0, le=2**53)]
"""A number of an immersion or an event."""
MOST_PIECES, MOST_LOTS, MOST_RESULTS = 500, 200, 500
Piece = Annotated[int, Field(ge=1, le=MOST_PIECES)]
"""A number of a piece."""
MOST_PICTURE = MOST_BYTES // 3 * 4 + 4
"""Longest picture in base64 [characters]."""
MOST_G, LONGEST_S, MOST_VALUE = 1e5, 86_400.0, 1e9
"""Heaviest piece [g], longest time aside [s], largest value typed by hand [its unit]."""
_KEPT_IN = {"_g": "g", "_c": "degC", "_s": "s", "_mm": "mm", "_percent": "percent"}
"""Unit by the end of the name of a typed value."""
LONGEST_RUN_S = 31 * 86_400.0
"""Latest time of an act [s]."""
Name = Annotated[str, Field(min_length=1, max_length=200)]
Word = Annotated[str, Field(max_length=200)]
"""A name, id or quantity as typed; may be empty."""
CameOut = Literal["accepted", "rejected"]
Defects = Annotated[list[Name], Field(max_length=100)]


class Request(BaseModel):
    """Anything that can be asked; unknown keys and other types are refused."""

    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, allow_inf_nan=False, defer_build=True
    )
    do: ClassVar[str]


class Act(Request):
    """Something the operator does in a run; becomes an event of its kind."""

    text: Annotated[str, Field(max_length=MAX_NOTE)] = ""

    def data(self) -> dict[str, Any]:
        """Return what the event keeps beside its text: only what was sent."""
        return self.model_dump(exclude={"text", "run", "after"}, exclude_unset=True)


class Start(Request):
    """Begin a run."""

    do = "start"
    sheet: str | None = None
    """Text of a sheet, or the name of one of the data folder; None is the recorder's own."""
    text: str = ""
    operator: Word = ""
    """Who makes the batch."""
    size: Word = ""
    """How much is made, as typed."""
    lots: Annotated[dict[Name, Word], Field(max_length=MOST_LOTS)] = {}
    """Lots by ingredient, where they are others than the sheet has."""
    instead: Annotated[dict[Name, Name], Field(max_length=MOST_LOTS)] = {}
    """Alternatives of the sheet that are taken, by ingredient."""


class RunEnd(Request):
    """End and save the run under way, and say how the batch came out where that is known."""

    do = "run_end"
    outcome: CameOut | None = None
    defects: Defects = []
    text: Annotated[str, Field(max_length=MAX_NOTE)] = ""
    new_defects: Defects = []
    pieces: Annotated[list["PieceCame"], Field(max_length=MOST_PIECES)] = []
    results: Annotated[list["ResultSaid"], Field(max_length=MOST_RESULTS)] = []


class GoOn(Request):
    """Go on with a run that ended or was cut off."""

    do = "go_on"
    run: Name


class AskResults(Request):
    """Return the results of the run under way as they are now."""

    do = "results"


class Stage(Act):
    """Begin a stage, now or as if it had begun at an earlier time."""

    do = "stage"
    stage: Name
    at_s: Annotated[float, Field(ge=0.0, le=LONGEST_RUN_S)] | None = None
    """When it began [s]; None is now."""

    def data(self) -> dict[str, Any]:
        """Return what the event keeps: the stage, and when it began [ns]."""
        then = {} if self.at_s is None else {"at_ns": round(self.at_s * 1e9)}
        return {"stage": self.stage, **then}


class Next(Act):
    """Begin the next stage of the sheet."""

    do = "next"
    stage: Word | None = None
    """What the operator believes it to be; kept, not acted on."""
    after: Word | None = None
    """The stage under way that the screen showed; where another one is, as two screens asked at
    once, no stage is passed over. Not kept."""


class Mark(Act):
    """Mark this moment."""

    do = "mark"
    piece: Piece | None = None


class Undo(Act):
    """Take back the last act, or the one named by the number of its event."""

    do = "undo"
    event: Count | None = None
    by: Word | None = None
    """Who says so; None is the operator of the run."""
    run: Word | None = None
    """A finished run; None is the one under way."""


class Move(Act):
    """Give an act another time [s]."""

    do = "move"
    event: Count
    to_s: Annotated[float, Field(ge=0.0, le=LONGEST_RUN_S)]
    by: Word | None = None
    run: Word | None = None


class Note(Act):
    """Write a note into the run under way, or into a finished one."""

    do = "note"
    run: Word | None = None


class Photo(Act):
    """Add a photo to the run under way, or to a finished one."""

    do = "photo"
    run: Word | None = None
    piece: Piece | None = None
    """None shows the batch."""
    picture: Annotated[str, Field(max_length=MOST_PICTURE)]
    """JPEG in base64."""

    @field_validator("picture")
    @classmethod
    def _has_the_form_that_is_kept(cls, picture: str) -> str:
        require_kept_form(base64.b64decode(picture, validate=True))
        return picture

    def image(self) -> bytes:
        """Return the picture."""
        return base64.b64decode(self.picture)

    def data(self) -> dict[str, Any]:
        """Return what the event keeps: what is known of the picture, not the picture."""
        return photo_data(self.image(), self.piece)


class RemovePhoto(Act):
    """Remove a photo from the run under way, or from a finished one."""

    do = "remove_photo"
    run: Word | None = None
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class PieceCame(BaseModel):
    """How one piece came out."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
    piece: Piece
    defects: Defects = []


class ResultSaid(BaseModel):
    """A result that the sheet declares, in the unit of the sheet."""

    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, allow_inf_nan=False, defer_build=True
    )
    name: Name
    value: Annotated[float, Field(ge=-MOST_VALUE, le=MOST_VALUE)]
    unit: Word = ""
    by: Word = ""
    """Who tasted."""


class Outcome(Act):
    """Say how the batch came out, single pieces of it, and what was measured of it."""

    do = "outcome"
    run: Word | None = None
    outcome: CameOut | None = None
    """None takes it back."""
    defects: Defects = []
    new_defects: Defects = []
    """Those among the defects that the sheet does not list; the run's list gets them."""
    pieces: Annotated[list[PieceCame], Field(max_length=MOST_PIECES)] = []
    """Where none are sent, what was said of the pieces stays."""
    because: Word | None = None
    """Cause that was found, by its id in the knowledge; empty takes it back."""
    results: Annotated[list[ResultSaid], Field(max_length=MOST_RESULTS)] = []
    """Those that are not sent stay as they were said."""


class ConfirmPiece(Act):
    """Say which piece an immersion was."""

    do = "confirm_piece"
    immersion: Count
    piece: Piece


class PieceIn(Act):
    """A piece goes into the bath now."""

    do = "piece_in"
    piece: Piece


class PieceOut(Act):
    """A piece comes out of the bath now."""

    do = "piece_out"
    piece: Piece


class RegisterPiece(Act):
    """Give a piece its mass [g]."""

    do = "register_piece"
    piece: Piece
    mass_g: Annotated[float, Field(gt=0.0, le=MOST_G)]


class AlarmAct(Act):
    """An act on one alarm."""

    alarm: Name


class Ack(AlarmAct):
    """Acknowledge an alarm."""

    do = "ack"


class Shelve(AlarmAct):
    """Set an alarm aside for some time [s]."""

    do = "shelve"
    for_s: Annotated[float, Field(gt=0.0, le=LONGEST_S)]


class Unshelve(AlarmAct):
    """Bring an alarm back."""

    do = "unshelve"


class ResetLatch(AlarmAct):
    """Clear a latched alarm."""

    do = "reset_latch"


class OutOfService(AlarmAct):
    """Take an alarm out of service: its probe was taken out on purpose."""

    do = "out_of_service"


class InService(AlarmAct):
    """Put an alarm back into service."""

    do = "in_service"


class ProposalAct(Act):
    """An answer to a proposal."""

    proposal: Name


class Accept(ProposalAct):
    """Accept a proposal."""

    do = "accept"


class Decline(ProposalAct):
    """Decline a proposal, or take back what was done by itself."""

    do = "decline"


class SetValue(Act):
    """Give a value that was measured by hand; its name ends in the unit that it is kept in."""

    do = "set_value"
    name: Name
    value: Annotated[float, Field(ge=-MOST_VALUE, le=MOST_VALUE)]
    unit: Word | None = None
    """As typed; None where it is the unit of the name."""

    @model_validator(mode="after")
    def _measures_what_its_name_says(self) -> Self:
        if self.unit is not None:
            self._kept(self.unit)
        return self

    def _kept(self, unit: str) -> tuple[float, str]:
        """Return the value in the unit that it is kept in, and that unit."""
        stem = self.name.partition(".")[0]
        kept = next((u for end, u in _KEPT_IN.items() if stem.endswith(end)), None)
        if kept is None:
            raise ValueError(f"{self.name!r} is a number without a unit; leave the unit out")
        try:
            return convert(self.value, unit, kept), kept
        except ValueError as cause:
            raise ValueError(
                f"{unit!r} is not a unit of {self.name!r}, which is in {kept}"
            ) from cause

    def data(self) -> dict[str, Any]:
        """Return what the event keeps: the value in the unit of its name."""
        sent = super().data()
        if self.unit is not None:
            sent["value"], sent["unit"] = self._kept(self.unit)
        return sent
