"""What was heard on a port, and the bench file that fits it."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, NamedTuple

from logger.model.bench import ROLE_LABELS, Bench
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.wire.recognise import read_last
from logger.wire.shapes.shape import Shape, shapes_from_text
from logger.wire.shapes.tables import PortLine
from logger.wire.teaching.registers import Register, format_of
from logger.words.digits import DASH, exact
from logger.words.values import percent_text, with_unit

READS_SHOWN = 8
"""Fields whose values are shown in one line."""
PLACES = 2
"""Most decimals of a value that is compared with a display."""


class Read(NamedTuple):
    """What a field read last."""

    field: str
    value: float | None
    """In `unit`; None where it has none, such as an open probe."""
    unit: str
    """``"g"``, ``"degC"`` or ``"uV"``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What one port said."""

    port: str
    """Name for a bench file that finds the port again."""
    device: str
    description: str
    shape: str | None = None
    """Line format that fits."""
    share: float = 0.0
    """Share of lines that fit it."""
    fields: tuple[str, ...] = ()
    quantity: tuple[str, ...] = ()
    identity: str | None = None
    baud: int | None = None
    settings: dict[str, Any] = field(default_factory=dict)
    """Line settings that differ from the shape's own."""
    sample: str = ""
    text: str = ""
    """What came, byte by byte as Latin-1: a line format can be taught from it."""
    error: str = ""
    units: tuple[str, ...] = ()
    """Units that its numbers may be in, where its lines do not say and nobody did so far."""
    address: int | None = None
    """Number of the device, where it is not that of the line format."""
    format_text: str = ""
    """File of the line format, where it was made for what was heard: several devices on a line."""
    left_out: tuple[tuple[str, str], ...] = ()
    """Fields that are no probes, and what they look like."""
    reads: tuple[Read, ...] = ()
    """What each of `fields` read last."""
    whole: bool = False
    """Its weights came without decimals."""
    registers: tuple[Register, ...] = ()
    """Numbers that are no readings until somebody says their factor."""
    registers_text: str = ""
    """File of the line format that they were found by."""

    def in_unit(self, unit: str, shapes: Mapping[str, Shape]) -> "Heard":
        """Return what was heard, with the unit of its numbers as somebody said it.

        Parameters
        ----------
        unit : str
            One of `units`; with any other nothing changes.
        shapes : mapping of str to Shape
            The line formats.
        """
        if self.shape is None or unit not in self.units:
            return self
        shape = next(
            s
            for s in shapes.values()
            if self.shape in (s.name, s.like)
            and {s.channel[f].sent_unit for f in self.fields} == {unit}
        )
        quantity = tuple(shape.channel[f].quantity for f in self.fields)
        known = replace(self, shape=shape.name, quantity=quantity, units=())
        return known.reading(self.text.encode("latin-1"), shape)

    def reading(self, heard: bytes, shape: Shape) -> "Heard":
        """Return what was heard, with what each of its fields read last.

        Parameters
        ----------
        heard : bytes
            What came.
        shape : Shape
            Its line format.
        """
        if self.address is not None:
            shape = shape.model_copy(update={"device": self.address})
        last = read_last(heard, shape)
        reads = (last[name] for name in self.fields if name in last and name != "cj")
        return replace(self, reads=tuple(Read(r.field, r.value, r.unit) for r in reads))

    def taught(self, shape: Shape, fields: Sequence[str]) -> "Heard":
        """Return what was heard as instrument with a line format that was just taught.

        Parameters
        ----------
        shape : Shape
            The format; its line settings are those it was heard at.
        fields : sequence of str
            Its values.
        """
        quantity = tuple(shape.channel[f].quantity for f in fields)
        known = replace(
            self, shape=shape.name, share=1.0, fields=tuple(fields), quantity=quantity,
            baud=shape.port.baud, settings={}, units=(), left_out=(),
        )  # fmt: skip
        return known.reading(self.text.encode("latin-1"), shape)

    def said(self, registers: Sequence[Register], name: str) -> "Heard":
        """Return what was heard, with the registers whose factor somebody said as its readings.

        Parameters
        ----------
        registers : sequence of Register
            All of them.
        name : str
            Name of their line format, whose file is `format_of` `registers_text`.
        """
        known = [one for one in registers if one.factor is not None]
        shape = shapes_from_text(format_of(self.registers_text, name, known), name)[name]
        fields = [shape.channel[one.field] for one in known]
        reads = (
            Read(one.field, one.value, field.unit_out)
            for one, field in zip(known, fields, strict=True)
        )
        return replace(
            self, shape=name, share=1.0, fields=tuple(one.field for one in known),
            quantity=tuple(field.quantity for field in fields), reads=tuple(reads),
            registers=tuple(registers),
        )  # fmt: skip

    @property
    def unsaid(self) -> tuple[Register, ...]:
        """Registers whose factor nobody said so far."""
        return tuple(one for one in self.registers if one.factor is None)

    @property
    def format_name(self) -> str:
        """Name of the format in `format_text`."""
        return next(iter(shapes_from_text(self.format_text, self.device)))

    @property
    def line(self) -> PortLine:
        """The line settings that it was heard at."""
        return PortLine.model_validate({"baud": self.baud or 9600} | self.settings)

    @property
    def says(self) -> str:
        """One line for a person."""
        named = self.description not in ("", "n/a")
        head = f"{self.device} ({self.description})" if named else self.device
        if self.error:
            return f"{head}: {self.error}"
        if self.shape is None and self.registers:
            says = "; ".join(one.says for one in self.registers)
            return f"{head}: numbers in registers at {self.baud} baud; {says}? Say what it shows"
        if self.shape is None:
            heard = f"unknown lines, such as {self.sample!r}" if self.sample else "nothing heard"
            return f"{head}: {heard}"
        fit = percent_text(self.share)
        at = f" at {self.baud} baud" if self.baud is not None else ""
        number = f", device {self.address}" if self.address is not None else ""
        says = f"{head}: {self.shape}{at}{number}, {fit} of its lines fit{self._reads}"
        if not self.units:
            return says
        choice = f"{', '.join(self.units[:-1])} or {self.units[-1]}"
        return f"{says}; which unit are its numbers in: {choice}?"

    @property
    def _reads(self) -> str:
        """Text of what it reads, for a look at the display."""
        if not self.reads:
            return ""
        named = len(self.reads) > 1
        shown = [
            (f"{one.field} " if named else "") + _read_text(one, bool(self.units))
            for one in self.reads[:READS_SHOWN]
        ]
        more = len(self.reads) - READS_SHOWN
        return f"; reads now {', '.join(shown)}{f' and {more} more' if more > 0 else ''}"

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return asdict(self) | {"says": self.says}


def _read_text(one: Read, bare: bool) -> str:
    """Write a value as a display would; without its unit where the lines do not say that."""
    if one.value is None:
        return DASH
    if one.unit == "uV":
        return with_unit(exact(one.value / 1000.0), "mV")
    return exact(one.value, PLACES) if bare else with_unit(exact(one.value, PLACES), one.unit)


def with_own(shapes: Mapping[str, Shape], heard: Sequence[Heard]) -> dict[str, Shape]:
    """Return line formats, with those that were made for what was heard.

    Parameters
    ----------
    shapes : mapping of str to Shape
        The line formats.
    heard : sequence of Heard
        From `survey`.
    """
    own = [shapes_from_text(one.format_text, one.device) for one in heard if one.format_text]
    return dict(shapes) | {name: shape for some in own for name, shape in some.items()}


LOOKS = {
    "count": "a count or a state",
    "clock": "a clock or a counter",
    "humidity": "a humidity",
    "out of range": "no temperature",
    "blank": "an empty column",
    "set value": "a set value",
    "battery": "the voltage of a battery",
    "other quantity": "another quantity, such as pH",
    "output": "the output of a controller",
    "made of two": "made of others, such as a mean",
    "range end": "the end of a range, as where no probe is",
    "further": "one more than its line format has",
}
"""What a column of numbers may be that is no probe."""
_ROLES = {
    "mass": ("bench_scale", "bath_scale", "bowl_scale"),
    "temperature": ("fat", "water", "emulsion", "bath", "core", "room"),
    "emf": ("fat", "water", "emulsion", "bath", "core", "room"),
}
_NO_ROLE = (
    "\n# {port}: {field} is left out because there is no role for another scale:\n"
    "# a bench has three.\n"
)
_GUESSES = (
    "The roles are guesses: warm one probe after the other in your\n"
    "# hand, watch the live page, and correct each channel.\n"
)


def bench_text(heard: Sequence[Heard], sensors: Mapping[str, str] | None = None) -> str:
    """Return a bench file for what was recognised; roles are guesses and say so.

    An instrument whose numbers have no unit is left out until somebody says what they are.

    Parameters
    ----------
    heard : sequence of Heard
        From `survey`.
    sensors : mapping, optional
        Inline table of what every probe (``"degC"``) or scale (``"g"``) is.
    """
    parts = [f"# Made by 'bainlog ports'. {_GUESSES}\n[bench]\nname = \"Bench\"\n"]
    parts += _instruments(_usable(heard), sensors or {}, Bench())
    parts.extend(f"\n# {h.says}\n" for h in heard if h.shape is None or h.units)
    if not any(h.shape for h in heard):
        parts.append("\n# No instrument was recognised.\n")
    return "".join(parts)


def added_text(
    heard: Sequence[Heard], there: Bench, sensors: Mapping[str, str] | None = None
) -> str:
    """Return what a bench file gets for instruments that are not in it; empty for none.

    Parameters
    ----------
    heard : sequence of Heard
        From `survey`.
    there : Bench
        The bench so far: its ports, names and roles are taken.
    sensors : mapping, optional
        As in `bench_text`.
    """
    ports = {one.port for one in there.instrument}
    new = [one for one in _usable(heard) if one.port not in ports]
    parts = _instruments(new, sensors or {}, there)
    return "".join([f"\n# Added by 'bainlog ports'. {_GUESSES}", *parts]) if parts else ""


def joined_text(
    heard: Sequence[Heard], there: str, name: str, sensors: Mapping[str, str] | None = None
) -> str:
    """Return a bench file with the instruments that are not in it yet at its end.

    Parameters
    ----------
    heard : sequence of Heard
        From `survey`.
    there : str
        The bench file so far; none of it changes.
    name : str
        Its name, for messages.
    sensors : mapping, optional
        As in `bench_text`.

    Raises
    ------
    InputError
        If all of them are in it, or it is no bench file.
    """
    added = added_text(heard, bench_from_text(there, name), sensors)
    if not added:
        raise InputError(name, "all of these instruments are in it already", "listen again")
    return there.rstrip("\n") + "\n" + added


def _usable(heard: Sequence[Heard]) -> list[Heard]:
    return [one for one in heard if one.shape and not one.units]


def _instruments(heard: Sequence[Heard], sensors: Mapping[str, str], there: Bench) -> list[str]:
    """Return the tables of instruments and their channels, next to those that are there."""
    parts = []
    names = {one.id for one in there.instrument}
    used: set[str] = {one.role for one in there.channel}
    for one in heard:
        kind = "scale" if "mass" in one.quantity else "probes"
        count = next(n for n in itertools.count(len(names) + 1) if f"{kind}{n}" not in names)
        name = f"{kind}{count}"
        channels, left = [], []
        for field_, quantity in zip(one.fields, one.quantity, strict=True):
            role = next((r for r in _ROLES[quantity] if r not in used), "other")
            if field_ == "cj":
                continue
            if quantity == "mass" and role == "other":
                left.append(_NO_ROLE.format(port=_quoted(one.port), field=field_))
                continue
            used.add(role)
            channels.append(_channel_text(name, field_, role, quantity, sensors))
        if not channels:
            parts += left
            continue
        names.add(name)
        parts += [_instrument_text(name, one), *channels, *left]
        parts.extend(
            f"\n# {name}: {field_} is left out because it looks like {LOOKS[kind_]}.\n"
            for field_, kind_ in one.left_out
        )
    return parts


def _instrument_text(name: str, one: Heard) -> str:
    lines = ["\n[[instrument]]", f"id = {_quoted(name)}", f"port = {_quoted(one.port)}"]
    lines.append(f"shape = {_quoted(str(one.shape))}")
    if one.settings:
        said = {k: _quoted(v) if isinstance(v, str) else v for k, v in one.settings.items()}
        lines.append(f"settings = {{ {', '.join(f'{k} = {v}' for k, v in said.items())} }}")
    if one.address is not None:
        lines.append(f"device = {one.address}")
    if one.whole and "mass" in one.quantity:
        lines.append(
            "whole = true   # it prints no decimals: 1.488 g would be 1488 g, and is not read"
        )
    if one.identity:
        lines.append(f"identity = {_quoted(one.identity)}")
    return "\n".join(lines) + "\n"


def _channel_text(
    instrument: str, field: str, role: str, quantity: str, sensors: Mapping[str, str]
) -> str:
    lines = [
        "\n[[channel]]",
        f"id = {_quoted(f'{instrument}_{field}')}",
        f"instrument = {_quoted(instrument)}",
        f"field = {_quoted(field)}",
        f"role = {_quoted(role)}   # {ROLE_LABELS[role]}?",
    ]
    sensor = sensors.get("g" if quantity == "mass" else "degC")
    if sensor is not None and (quantity != "emf" or "type = " in sensor):
        lines.append(f"sensor = {sensor}")
    elif quantity == "emf":
        lines.append(
            '# sensor = { kind = "thermocouple", type = "T" }   # required: which type is it?'
        )
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    escaped = "".join(c if c.isprintable() and c not in '"\\' else f"\\u{ord(c):04X}" for c in text)
    return f'"{escaped}"'
