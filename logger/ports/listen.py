"""Which ports are there, what speaks on them, and the bench file that fits.

Each port is opened at the settings that line shapes know, one after the other, and listened to;
where all is quiet it is asked the questions that shapes know. Ports are listened to side by side,
each in a thread of its own.
"""

import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import serial

from logger.model.bench import ROLE_LABELS
from logger.model.errors import PortError
from logger.ports.clock import Clock
from logger.ports.errors import TROUBLE, why
from logger.ports.identity import Listed, listed_ports, name_of
from logger.ports.opening import close_port, open_port, read_chunk
from logger.ports.registers import RegisterRound
from logger.wire.recognise import ENOUGH, Match, recognise
from logger.wire.shape import PortLine, Shape, builtin_shapes

SHORTEST_QUESTION = 4
"""Shorter questions are not asked of a stranger: they could be a command to it [characters]."""
SHORTEST_LISTEN_S = 0.4
BYTES_MAX = 8192
SAMPLE_MAX = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What one port said."""

    port: str
    """Name for a bench file that finds the port again."""
    device: str
    description: str
    shape: str | None = None
    """Line shape that fits."""
    share: float = 0.0
    """Share of lines that fit it."""
    fields: tuple[str, ...] = ()
    quantity: tuple[str, ...] = ()
    identity: str | None = None
    baud: int | None = None
    settings: dict[str, Any] = field(default_factory=dict)
    """Line settings that differ from the shape's own."""
    sample: str = ""
    error: str = ""

    @property
    def says(self) -> str:
        """One line for a person."""
        head = f"{self.device} ({self.description})" if self.description else self.device
        if self.error:
            return f"{head}: {self.error}"
        if self.shape is None:
            heard = f"unknown lines, such as {self.sample!r}" if self.sample else "nothing heard"
            return f"{head}: {heard}"
        return f"{head}: {self.shape} at {self.baud} baud, {self.share:.0%} of its lines fit"

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return asdict(self) | {"says": self.says}


def survey(
    seconds: float,
    *,
    devices: Sequence[str] = (),
    shapes: Mapping[str, Shape] | None = None,
    ask: bool = True,
) -> list[Heard]:
    """Listen to every port of the system.

    Parameters
    ----------
    seconds : float
        How long each port is listened to in all [s]; never less than 0.4 s at each setting.
    devices : sequence of str
        Further ports by path or URL, which the system does not list (pseudo-terminals,
        ``socket://``).
    shapes : mapping, optional
        Line shapes to tell apart; None is the built-in ones.
    ask : bool
        Whether a quiet port is asked anything.
    """
    known = dict(shapes) if shapes is not None else builtin_shapes()
    there: list[tuple[str, str, str]] = [_named(p) for p in listed_ports()]
    there += [(device, device, "") for device in devices]
    found: list[Heard | None] = [None] * len(there)

    def listen(number: int) -> None:
        name, device, description = there[number]
        found[number] = _Listener(name, device, description, known, ask).listen(seconds)

    threads = [threading.Thread(target=listen, args=(n,), daemon=True) for n in range(len(there))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [heard for heard in found if heard is not None]


def _named(listed: Listed) -> tuple[str, str, str]:
    return name_of(listed), str(listed.device), str(listed.description or "")


class _Listener:
    """Listens to one port at one setting after another until a shape fits."""

    def __init__(
        self, name: str, device: str, description: str, shapes: Mapping[str, Shape], ask: bool
    ) -> None:
        self._about = Heard(port=name, device=device, description=description)
        self._device = device
        self._shapes = shapes
        self._ask = ask

    def listen(self, seconds: float) -> Heard:
        lines: list[PortLine] = []
        for shape in self._shapes.values():
            line = shape.port.model_copy(update={"settle_s": 0.0})
            if line not in lines:
                lines.append(line)
        lines.sort(key=lambda line: -sum(s.port.baud == line.baud for s in self._shapes.values()))
        each_s = max(SHORTEST_LISTEN_S, seconds / len(lines))
        sample = b""
        for line in lines:
            try:
                port = open_port(self._device, line, read_s=0.1)
            except PortError as cause:
                return replace(self._about, error=str(cause).removeprefix(f"{self._device}: "))
            try:
                heard, match, identity = self._at(port, line, each_s)
            except PortError as cause:
                return replace(self._about, error=str(cause))
            finally:
                close_port(port)
            sample = sample or heard
            if match is not None:
                return self._recognised(match, line, heard, identity)
        return replace(self._about, sample=_shown(sample))

    def _recognised(
        self, match: Match, line: PortLine, heard: bytes, identity: str | None
    ) -> Heard:
        shape = self._shapes[match.shape]
        fields = list(shape.channel)
        return replace(
            self._about,
            shape=match.shape,
            share=match.share,
            fields=tuple(fields),
            quantity=tuple(shape.channel[f].quantity for f in fields),
            identity=identity,
            baud=line.baud,
            settings={
                key: getattr(line, key)
                for key in ("baud", "bits", "parity", "stop")
                if getattr(line, key) != getattr(shape.port, key)
            },
            sample=_shown(heard),
        )

    def _at(
        self, port: serial.Serial, line: PortLine, seconds: float
    ) -> tuple[bytes, Match | None, str | None]:
        heard = self._collect(port, seconds)
        match = self._best(heard, asked=False)
        if match is not None or heard or not self._ask:
            return heard, match, None
        for shape in self._shapes.values():
            if shape.port.baud != line.baud or shape.port.parity != line.parity:
                continue
            said, identity = self._answer(port, shape, line)
            match = self._best(said, asked=True) if said else None
            if match is not None:
                return said, match, identity
            heard = heard or said
        return heard, None, None

    def _best(self, heard: bytes, *, asked: bool) -> Match | None:
        ranked = [
            m for m in recognise(heard, self._shapes) if asked or not self._shapes[m.shape].asks
        ]
        return ranked[0] if ranked and ranked[0].share >= ENOUGH else None

    def _answer(
        self, port: serial.Serial, shape: Shape, line: PortLine
    ) -> tuple[bytes, str | None]:
        """Ask a port as a shape asks, twice, and return what came and who it says it is."""
        identity = None
        if shape.decode == "modbus":
            questions = RegisterRound(port, shape, line, Clock().now_ns)
            return b"".join(self._call(questions.ask, 0)[0] for _ in range(2)), None
        if shape.identify is not None:
            said = self._question(port, shape.identify.send, shape.identify.timeout_s)
            identity = said.decode("ascii", "replace").strip() or None
            if identity is None:
                return b"", None
        if shape.ask == "none" or len(shape.ask.send) < SHORTEST_QUESTION:
            return b"", None
        said = b""
        for _ in range(3):
            one = self._question(port, shape.ask.send, shape.ask.timeout_s)
            if not one:
                break
            said += one
        return said, identity

    def _question(self, port: serial.Serial, text: str, timeout_s: float) -> bytes:
        self._call(port.write, text.encode("latin-1"))
        return self._collect(port, timeout_s, until=b"\n")

    def _collect(self, port: serial.Serial, seconds: float, until: bytes | None = None) -> bytes:
        heard, deadline = b"", time.monotonic() + seconds
        while time.monotonic() < deadline and len(heard) < BYTES_MAX:
            heard += self._call(read_chunk, port)
            if until is not None and until in heard:
                break
        return heard

    def _call(self, call: Any, *args: Any) -> Any:
        try:
            return call(*args)
        except TROUBLE as cause:
            raise why(cause, self._device, opening=False) from cause


def _shown(heard: bytes) -> str:
    lines = heard.replace(b"\r", b"").split(b"\n")
    line = lines[1] if len(lines) > 2 else lines[0]
    return line.decode("ascii", "backslashreplace")[:SAMPLE_MAX]


_ROLES = {
    "mass": ("bench_scale", "bath_scale", "bowl_scale"),
    "temperature": ("fat", "water", "emulsion", "bath", "core", "room"),
    "emf": ("fat", "water", "emulsion", "bath", "core", "room"),
}


def bench_text(heard: Sequence[Heard]) -> str:
    """Return a bench file for what was recognised; roles are guesses and say so.

    Parameters
    ----------
    heard : sequence of Heard
        From `survey`.
    """
    parts = [
        "# Made by 'bainlog ports'. The roles are guesses: warm one probe after the other in the\n"
        '# hand, watch the live page, and put each channel right.\n\n[bench]\nname = "Bench"\n'
    ]
    used = {"mass": 0, "temperature": 0, "emf": 0}
    for number, one in enumerate((h for h in heard if h.shape is not None), start=1):
        scale = "mass" in one.quantity
        name = f"{'scale' if scale else 'probes'}{number}"
        parts.append(_instrument_text(name, one))
        for name_of_field, quantity in zip(one.fields, one.quantity, strict=True):
            if name_of_field == "cj":
                continue
            roles = _ROLES[quantity]
            count = used["mass"] if quantity == "mass" else used["temperature"]
            used["mass" if quantity == "mass" else "temperature"] += 1
            role = roles[count] if count < len(roles) else "other"
            parts.append(_channel_text(name, name_of_field, role, quantity))
    parts.extend(f"\n# {h.says}\n" for h in heard if h.shape is None)
    if not any(h.shape for h in heard):
        parts.append("\n# No instrument was recognised.\n")
    return "".join(parts)


def _instrument_text(name: str, one: Heard) -> str:
    lines = [
        "\n[[instrument]]",
        f"id = {_quoted(name)}",
        f"port = {_quoted(one.port)}",
        f"shape = {_quoted(str(one.shape))}",
    ]
    if one.settings:
        pairs = (
            f"{k} = {_quoted(v) if isinstance(v, str) else v}" for k, v in one.settings.items()
        )
        lines.append(f"settings = {{ {', '.join(pairs)} }}")
    if one.identity:
        lines.append(f"identity = {_quoted(one.identity)}")
    return "\n".join(lines) + "\n"


def _channel_text(instrument: str, field: str, role: str, quantity: str) -> str:
    lines = [
        "\n[[channel]]",
        f"id = {_quoted(f'{instrument}_{field}')}",
        f"instrument = {_quoted(instrument)}",
        f"field = {_quoted(field)}",
        f"role = {_quoted(role)}   # {ROLE_LABELS[role]}?",
    ]
    if quantity == "emf":
        lines.append('sensor = { kind = "thermocouple", type = "T" }   # which type is it?')
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    escaped = "".join(c if c.isprintable() and c not in '"\\' else f"\\u{ord(c):04X}" for c in text)
    return f'"{escaped}"'
