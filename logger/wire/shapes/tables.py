"""The tables of a line format: port, frame, question, lines, values, flags.

Pure data, validated; put together in ``shape``, which says what the keys mean.
"""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.written import Written
from logger.wire.units import UNIT_OF, Quantity

Means = Literal[
    "reading",
    "overload",
    "underload",
    "error",
    "busy",
    "refused",
    "open",
    "ignore",
    "tare",
    "mark",
    "banner",
]
Seconds = Annotated[float, Field(gt=0, le=3600)]
FAULTS = {1: "open", 2: "touches ground", 4: "touches supply"}
"""What the fault bits of thermocouple converters mean where a shape does not say (datasheets of the
14-bit class)."""
FAR = 120
"""A status register may lie so far from its value: both come in one request of 125."""


class PortLine(Written):
    """Settings of the serial line."""

    baud: int = Field(default=9600, gt=0)
    bits: Literal[5, 6, 7, 8] = 8
    parity: Literal["N", "E", "O"] = "N"
    stop: Literal[1, 2] = 1
    dtr: bool | None = None
    rts: bool | None = None
    settle_s: Annotated[float, Field(alias="settle", ge=0, le=30)] = 0.0
    """What a board that resets when its port opens needs before it is asked anything [s]."""


class Frame(Written):
    """Where a line ends."""

    end: str = Field(default="\n", min_length=1, max_length=4)
    start: str = Field(default="", max_length=1)
    size: int = Field(default=0, ge=0, le=256)
    """Bytes of a binary frame, with start and check byte."""
    max: int = Field(default=160, ge=1, le=4096)
    """Longest line without its end [bytes]."""
    check: Literal[
        "none", "xor", "sum", "xor hex", "xor hex behind *", "sum hex", "lrc hex", "crc16 hex"
    ] = "none"
    """xor, sum: one byte after the end, of all bytes after the start up to and with the end, which
    needs a start; hex: two digits before the end, four for a CRC, of what stands before them;
    behind ``*``: of what stands between the first character and it."""
    control: bool = False
    """Lines may hold control characters; elsewhere one makes the line a bad one."""
    encoding: Literal["utf-8", "latin-1"] = "utf-8"
    prompt: str = Field(default="", max_length=8)
    """What the instrument prints before it listens again; taken off the front of a line."""


class Ask(Written):
    """A question that the instrument answers."""

    send: str = Field(min_length=1)
    every_s: Annotated[Seconds, Field(alias="every")]
    timeout_s: Annotated[Seconds, Field(alias="timeout")] = 0.5
    init: tuple[str, ...] = ()
    """Sent once after opening, before the first question."""
    then: tuple[str, ...] = ()
    """Further questions of a round, each asked once the one before was answered or waited for."""

    @property
    def questions(self) -> tuple[str, ...]:
        """All questions of a round, in their order."""
        return (self.send, *self.then)


class Identify(Written):
    """A question whose answer tells this instrument from another."""

    send: str = Field(min_length=1)
    pattern: str
    timeout_s: Annotated[Seconds, Field(alias="timeout")] = 1.0


class Expect(Written):
    """What is usual of the instrument."""

    rate_hz: Annotated[float | None, Field(alias="rate", gt=0)] = None
    silent_after_s: Annotated[Seconds | None, Field(alias="silent_after")] = None
    stuck_after_s: Annotated[Seconds | None, Field(alias="stuck_after")] = None


class Rule(Written):
    """One kind of line and what it means."""

    means: Means
    pattern: str = ""
    whole: str | None = None
    """With `each`: what the whole line must look like."""
    each: bool = False
    """One value per match of the pattern, named by group ``ch``."""
    join: str = " "
    """With `each`: what stands between two values when the line is written."""
    width: tuple[int, ...] = ()
    """Exact lengths the line may have; empty is any."""
    blank: tuple[str, ...] = ()
    """Texts that stand for no value."""
    sentinel: tuple[float, ...] = ()
    """Numbers that stand for no value, as sent, beside those that always do."""
    power_on: tuple[float, ...] = ()
    """Numbers that a sensor reports before its first conversion, as values [g, degC or uV]: no
    value, but next to a value within 5 of it."""
    field: str | None = None
    """The one field that an overload, open or tare line is about; None is all of them."""
    write: str | None = None
    """The line as the virtual bench prints it, with ``{group}`` where a group stands."""


class ShapeField(Written):
    """One value that lines carry."""

    group: str | None = None
    path: str | None = None
    register_: Annotated[int | None, Field(alias="register", ge=0, le=0xFFFF)] = None
    device: int | None = Field(default=None, ge=1, le=247)
    """Number of the device whose register it is, where a line has several; None is the format's."""
    key: str | None = None
    quantity: Quantity = "temperature"
    unit: str | None = None
    """Unit of the number as sent; None is the code's own unit of the quantity."""
    unit_group: str | None = None
    units: dict[str, str] = Field(default_factory=dict)
    """Unit as printed to a unit that is known, where it is printed in another way."""
    sign_group: str | None = None
    """Group that holds the sign apart from the digits."""
    minus: tuple[str, ...] = ("-",)
    """What it holds where the number is negative."""
    minus_bit: int | None = Field(default=None, ge=0, le=6)
    """Or the bit of its character that is 1 then."""
    places_group: str | None = None
    """Group that says how many of the digits are decimals."""
    places: dict[str, int] = Field(default_factory=dict)
    """What it holds, and the number of decimals; empty: it holds that number."""
    without: str = Field(default="", max_length=4)
    """Characters that are taken out of the number: a comma between thousands, brackets."""
    reversed: bool = False
    """The last digit is sent first."""
    scale: float = 1.0
    """The number as sent times this is in `unit`."""
    type: Literal["B", "E", "J", "K", "N", "R", "S", "T"] | None = None
    equals: tuple[str, ...] = ()
    """Sums of other groups of the line that the number must come to, each with its unit or the
    group of it: ``"f degF"``, ``"gross gu - tare tu"``; a line that says otherwise is a bad one."""
    cold_junction: str | None = None
    """Group, path or field that holds the cold junction's temperature in degC."""
    fault: str | int | None = None
    """Group, path or register that holds a fault number; 0 is none."""
    faults: dict[int, str] = FAULTS
    """What a fault number means: ``open``, ``over``, ``under``, or other words for a fault."""
    fault_as: Literal["bits", "code"] = "bits"
    range: tuple[float, float] | None = None
    """In g, degC or uV; a value outside is kept and flagged, as is one outside of `possible`."""
    delay_s: Annotated[float, Field(alias="delay", ge=0, le=60)] = 0.0
    blank: tuple[str, ...] = ()
    sentinel: tuple[float, ...] = ()
    decimal: Literal[".", ","] = "."
    width: tuple[int, ...] = ()
    """Exact lengths that the group's text may have, for a number set right in fixed columns: one
    that lost its first digits is shorter. Empty is any."""
    table: Literal["holding", "input"] = "holding"
    as_: Annotated[
        Literal["int16", "uint16", "int32", "uint32", "float32", "bcd"], Field(alias="as")
    ] = "int16"
    words: Literal["high first", "low first"] = "high first"
    at: int | None = Field(default=None, ge=1, le=255)
    """First byte of a number in a binary frame, from 0, which is the start byte."""
    bytes_: Annotated[int, Field(alias="bytes", ge=1, le=8)] = 2
    """How many bytes it has; two digits each of BCD."""
    order: Literal["high first", "low first"] = "high first"
    """Which of its bytes comes first."""
    state_at: int | None = Field(default=None, ge=1, le=255)
    """Byte with its sign (`minus_bit`) and with `over_bit`, in a binary frame."""
    over_bit: int | None = Field(default=None, ge=0, le=7)
    """Bit that is 1 when the instrument is over its range."""
    places_at: int | None = Field(default=None, ge=1, le=255)
    """Byte whose lowest three bits are the number of decimals."""
    write: str = ".1f"
    """Format of the number as the virtual bench prints it."""

    @property
    def unit_out(self) -> str:
        """``"g"``, ``"degC"`` or ``"uV"``."""
        return UNIT_OF[self.quantity]

    @property
    def sent_unit(self) -> str:
        """Unit of the number as sent, where the line does not say."""
        return self.unit or self.unit_out


class FlagRule(Written):
    """How a line says stable or net."""

    group: str = ""
    at: int | None = Field(default=None, ge=1, le=255)
    """Byte of a binary frame that `bit` is of."""
    true: tuple[str, ...] = ()
    false: tuple[str, ...] = ()
    """Only for writing: what the line shows otherwise."""
    bit: int | None = Field(default=None, ge=0, le=6)
    """Bit of a status character that is 30h plus bits."""
    when: Literal[0, 1] = 1
    """What that bit is when the flag holds."""


class Sample(Written):
    """One line and what it says; a line format that reads its sample otherwise is refused."""

    sent: str
    """What stands between start and end of the line."""
    gives: dict[str, float] = Field(default_factory=dict)
    """Field to value, in g, degC or uV."""
    none: tuple[str, ...] = ()
    """Fields that are there and have no value."""
    says: tuple[Literal["stable", "moving", "net", "gross"], ...] = ()
