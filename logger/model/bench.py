"""The instruments on one table and how they are wired to channels: ``bench.toml``.

Pure data, validated; read by ``files.bench_from_text``. Field names carry the unit, the keys in the
file do not (``offset = "-0.2 K"`` is ``offset_k``).
"""

import datetime
from typing import Annotated, Literal, get_args

from pydantic import AfterValidator, Field, ValidationInfo, model_validator

from logger.model.ports.forms import form_of
from logger.model.written import (
    BY_HAND,
    AltitudeM,
    DeltaK,
    DurationS,
    MassG,
    PressureKpa,
    TempC,
    Written,
)

Role = Literal[
    "fat",
    "water",
    "emulsion",
    "bath",
    "core",
    "room",
    "bowl_scale",
    "bath_scale",
    "bench_scale",
    "other",
]
MOST_INSTRUMENTS, MOST_CHANNELS = 64, 256
"""Of one bench; of switches as many as of instruments."""
ROLES: tuple[str, ...] = get_args(Role)
SCALE_ROLES = ("bowl_scale", "bath_scale", "bench_scale")

ROLE_LABELS = {
    "fat": "Fat",
    "water": "Water phase",
    "emulsion": "Emulsion",
    "bath": "Bath",
    "core": "Core",
    "room": "Room",
    "bowl_scale": "Bowl scale",
    "bath_scale": "Bath scale",
    "bench_scale": "Bench scale",
    "other": "Channel",
}


def _port(port: str, info: ValidationInfo) -> str:
    """Refuse a port of no known form in a file; a frozen copy always reads, and opens nothing."""
    if info.context and info.context.get(BY_HAND):
        form_of(port)
    return port


PortName = Annotated[str, AfterValidator(_port)]


class PortSettings(Written):
    """Line settings that differ from those of the line shape; None leaves the shape's own."""

    baud: int | None = Field(default=None, gt=0)
    bits: Literal[5, 6, 7, 8] | None = None
    parity: Literal["N", "E", "O"] | None = None
    stop: Literal[1, 2] | None = None
    dtr: bool | None = None
    rts: bool | None = None


class Instrument(Written):
    """One thing on one serial port."""

    id: str
    port: PortName
    """In one of the forms of ``ports.forms``."""
    shape: str
    """Name of its line shape."""
    settings: PortSettings = PortSettings()
    identity: str | None = None
    """Reply to the identity question that this very instrument gives, if it has one."""
    delay_s: Annotated[DurationS, Field(alias="delay")] = 0.0
    """Filter delay of the instrument, taken off each sample time."""
    device: int | None = None
    """Modbus device number, where the line shape is of registers."""
    whole: bool = False
    """Its weights came without decimals: a point in one stands between thousands."""


class Sensor(Written):
    """What the probe or the load cell is good for, for the uncertainty budget."""

    kind: Literal["thermocouple", "rtd", "thermistor", "balance", "other"]
    type: Literal["B", "E", "J", "K", "N", "R", "S", "T"] | None = None
    """Thermocouple type."""
    standard: Literal["IEC 60584-2", "ASTM E230"] = "IEC 60584-2"
    class_: Annotated[Literal[1, 2, 3, "standard", "special"] | None, Field(alias="class")] = None
    """Tolerance class of the wire; None is unknown."""
    converter_k: Annotated[DeltaK | None, Field(alias="converter", ge=0)] = None
    """Half width of the converter's own error [K]."""
    cold_junction_k: Annotated[DeltaK | None, Field(alias="cold_junction", ge=0)] = None
    """Half width of the cold junction's error [K]."""
    accuracy_k: Annotated[DeltaK | None, Field(alias="accuracy", ge=0)] = None
    """Half width of a temperature sensor that is not a thermocouple [K]."""
    oiml_class: Literal["I", "II", "III", "IIII"] | None = None
    """Accuracy class of a balance (OIML R 76)."""
    interval_g: Annotated[MassG | None, Field(alias="verification_interval", gt=0)] = None
    """Verification scale interval e [g]."""
    linearity_g: Annotated[MassG | None, Field(alias="linearity", ge=0)] = None
    """Half width of a balance's error where it has no class [g]."""
    assumed: bool = False
    """"Don't know" was answered: what is not stated is taken as wide as the widest published class
    of the type, and every verdict from it is marked *assumed*."""
    time_constant_s: Annotated[DurationS | None, Field(alias="time_constant")] = None
    """Of the probe in the food [s]; as stated. A plunge test's `Lag` goes before it."""


class Lag(Written):
    """What a plunge test found; dated."""

    time_constant_s: Annotated[DurationS, Field(alias="time_constant", gt=0)]
    """In stirred water [s]."""
    checked: datetime.date
    by: str = ""
    u_s: Annotated[DurationS | None, Field(alias="u", ge=0)] = None
    """Standard uncertainty of the time constant [s]."""


class Correction(Written):
    """What a check against a known temperature or mass found; dated."""

    offset_k: Annotated[DeltaK | None, Field(alias="offset")] = None
    """Added to a temperature [K]."""
    offset_g: Annotated[MassG | None, Field(alias="offset_mass")] = None
    """Added to a mass [g]."""
    points: list[tuple[float, float]] | None = None
    """Two points (shown, true) in degC or g; a straight line through both."""
    checked: datetime.date
    by: str = ""
    """How: ice point, boiling point, check weight..."""
    u: float | None = Field(default=None, ge=0)
    """Standard uncertainty of the check itself [K or g]; None is the method's usual one."""
    due_days: int = Field(default=90, gt=0)

    @model_validator(mode="after")
    def _one_way(self) -> "Correction":
        given = [v for v in (self.offset_k, self.offset_g, self.points) if v is not None]
        if len(given) != 1:
            raise ValueError("a correction has either offset, offset_mass or points")
        if self.points is not None and (
            len(self.points) != 2 or self.points[0][0] == self.points[1][0]
        ):
            raise ValueError("points are two pairs [shown, true] with different shown values")
        return self


class Channel(Written):
    """One measured quantity with a role."""

    id: str
    instrument: str
    field: str
    """Name of the value in the line shape."""
    role: Role
    label: str = ""
    sensor: Sensor | None = None
    correction: Correction | None = None
    lag: Lag | None = None
    """From a plunge test."""
    resolution: float | None = Field(default=None, gt=0)
    """Smallest step of the display, degC or g; None takes the default of ``correct.budget``."""
    repeatability: float | None = Field(default=None, ge=0)
    """Standard deviation of repeats, degC or g."""
    stuck_after_s: Annotated[DurationS | None, Field(alias="stuck_after")] = None

    @property
    def unit(self) -> str:
        """``"g"`` for a scale, else ``"degC"``."""
        return "g" if self.role in SCALE_ROLES else "degC"

    @property
    def time_constant_s(self) -> float | None:
        """Time constant of the probe [s]: measured, else as stated; None is unknown."""
        if self.lag is not None:
            return self.lag.time_constant_s
        return self.sensor.time_constant_s if self.sensor is not None else None

    @property
    def name(self) -> str:
        """The label a person reads."""
        return self.label or ROLE_LABELS[self.role]


class Switch(Written):
    """A foot switch: on a modem line of a port of its own, or a byte in an instrument's stream."""

    port: PortName
    line: Literal["cts", "dsr"] | None = None
    byte: str | None = Field(default=None, min_length=1, max_length=1)
    active: Literal["high", "low"] = "high"

    @model_validator(mode="after")
    def _one_way(self) -> "Switch":
        if (self.line is None) == (self.byte is None):
            raise ValueError("a switch has either line or byte")
        return self


class Place(Written):
    """Where the bench stands."""

    room_c: Annotated[TempC | None, Field(alias="room")] = None
    pressure_kpa: Annotated[PressureKpa | None, Field(alias="station_pressure")] = None
    altitude_m: Annotated[AltitudeM | None, Field(alias="altitude")] = None


class BenchHead(Written):
    """The ``[bench]`` table."""

    name: str = "Bench"


class Bench(Written):
    """A whole bench file."""

    bench: BenchHead = BenchHead()
    place: Place = Place()
    instrument: Annotated[list[Instrument], Field(max_length=MOST_INSTRUMENTS)] = []
    channel: Annotated[list[Channel], Field(max_length=MOST_CHANNELS)] = []
    switch: Annotated[list[Switch], Field(max_length=MOST_INSTRUMENTS)] = []

    @model_validator(mode="after")
    def _wired(self) -> "Bench":
        known = [i.id for i in self.instrument]
        for name, ids in (("instrument", known), ("channel", [c.id for c in self.channel])):
            twice = sorted({i for i in ids if ids.count(i) > 1})
            if twice:
                raise ValueError(f"{name} id {twice[0]!r} is used twice; give each its own")
        for channel in self.channel:
            if channel.instrument not in known:
                raise ValueError(
                    f"channel {channel.id!r} names instrument {channel.instrument!r}; "
                    f"write one of {', '.join(known) or 'none'}"
                )
        return self

    def channel_of(self, role: str) -> Channel | None:
        """Return the first channel with a role, or None."""
        return next((c for c in self.channel if c.role == role), None)


def bench_of_roles(channel_ids: list[str]) -> Bench:
    """Return a bench for an imported file whose channels are named by role.

    Raises
    ------
    ValueError
        If a channel id is no role.
    """
    for channel_id in channel_ids:
        if channel_id not in ROLES:
            raise ValueError(f"channel {channel_id!r} is not a role; roles are {', '.join(ROLES)}")
    return Bench.model_validate(
        {
            "bench": {"name": "Imported"},
            "instrument": [{"id": "import", "port": "none", "shape": "none"}],
            "channel": [
                {"id": c, "instrument": "import", "field": c, "role": c} for c in channel_ids
            ],
        }
    )
