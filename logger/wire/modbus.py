"""Modbus RTU: requests and responses as bytes, registers as values.

Pure. The raw stream of an instrument with registers holds each request and what came back, so that
a replay needs nothing else. A request is known byte for byte from the line format::

    device  function  address hi lo  count hi lo  crc lo hi          8 bytes
    device  function  bytes  data...              crc lo hi          5 + 2 * count bytes
    device  function | 80h   code                 crc lo hi          5 bytes, an exception

References
----------
MODBUS Application Protocol Specification V1.1b3, sections 6.3, 6.4 (functions 3, 4), 7 (exception
codes). MODBUS over Serial Line Specification and Implementation Guide V1.02, section 2.5.1 (RTU
frame), 6.2.2 (CRC).
"""

import struct
from typing import NamedTuple

from logger.wire.checks import crc16, lrc
from logger.wire.framing import SHOWN, Cut, Fault
from logger.wire.parsed import (
    Note,
    Parsed,
    Value,
    blank_word,
    delay_ns,
    fault_word,
    in_range_flag,
    no_value,
)
from logger.wire.shapes.possible import cold_junction_or_none, says_no_value
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import ShapeField
from logger.wire.units import conversion, converted

FUNCTIONS = {"holding": 3, "input": 4}
MAX_REGISTERS = 125
MOST_DIGITS = 513
"""Longest frame of hex digits (over Serial Line V1.02, section 2.5.2)."""
EXCEPTIONS = {
    1: "function not known",
    2: "no such register",
    3: "value not allowed",
    4: "device failed",
    5: "taken, answer comes later",
    6: "device busy",
    8: "memory parity error",
    10: "gateway path not available",
    11: "gateway target does not answer",
}
"""V1.1b3, section 7."""
_FORMATS = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}


class Request(NamedTuple):
    """One question for consecutive registers."""

    table: str
    address: int
    size: int
    """Registers."""
    device: int | None = None
    """Number of the device, where it is not that of the line format."""


def request_bytes(device: int, request: Request) -> bytes:
    """Return a request as sent."""
    to = request.device or device
    body = struct.pack(">BBHH", to, FUNCTIONS[request.table], request.address, request.size)
    return body + crc16(body)


def response_bytes(device: int, request: Request, registers: list[int]) -> bytes:
    """Return the response to a request.

    Parameters
    ----------
    device : int
        Number of the device.
    request : Request
        What was asked.
    registers : list of int
        Unsigned 16-bit numbers.
    """
    to = request.device or device
    body = struct.pack(">BBB", to, FUNCTIONS[request.table], 2 * len(registers))
    body += struct.pack(f">{len(registers)}H", *registers)
    return body + crc16(body)


def exception_bytes(device: int, request: Request, code: int) -> bytes:
    """Return an exception response to a request.

    Parameters
    ----------
    device : int
        Number of the device.
    request : Request
        What was asked.
    code : int
        Exception code of the protocol.
    """
    body = bytes([request.device or device, FUNCTIONS[request.table] | 0x80, code])
    return body + crc16(body)


def answers_in(came: bytes) -> tuple[list[int], bytes]:
    """Return which devices answered requests for registers, and what else came.

    Parameters
    ----------
    came : bytes
        Whole responses, perhaps with what is none between them.
    """
    found, rest, at = set(), b"", 0
    while at < len(came):
        head = came[at : at + 3]
        size = 5 if len(head) == 3 else 0
        if size and head[1] in FUNCTIONS.values():
            size += head[2] or len(came)
        elif size and head[1] & 0x7F not in FUNCTIONS.values():
            size = 0
        piece = came[at : at + size]
        if size and len(piece) == size and crc16(piece[:-2]) == piece[-2:]:
            found.add(piece[0])
            at += size
        else:
            rest += came[at : at + 1]
            at += 1
    return sorted(found), rest


def size_of(field: ShapeField) -> int:
    """Return how many registers a value takes."""
    return struct.calcsize(_FORMATS[field.as_]) // 2


def plan_of(shape: Shape) -> list[tuple[Request, list[str]]]:
    """Return the requests that fetch all registers of a shape, each with the fields it brings.

    A value and its status register come in one request; so do neighbours, up to what one request
    may read. Registers that nothing needs are read only where they lie between those two, as some
    devices refuse them.
    """
    plan: list[tuple[Request, list[str]]] = []
    kinds = dict.fromkeys((f.device, f.table) for f in shape.channel.values())
    for device, table in sorted(kinds, key=lambda k: (k[0] or 0, [*FUNCTIONS].index(k[1]))):
        spans = sorted(
            (*span_of(field), name)
            for name, field in shape.channel.items()
            if (field.device, field.table) == (device, table)
        )
        for low, high, name in spans:
            last = plan[-1] if plan else None
            if last is not None and (last[0].device, last[0].table) == (device, table):
                start, stop = last[0].address, last[0].address + last[0].size
                if low <= stop and max(high, stop) - start <= MAX_REGISTERS:
                    joined = Request(table, start, max(high, stop) - start, device)
                    plan[-1] = (joined, [*last[1], name])
                    continue
            plan.append((Request(table, low, high - low, device), [name]))
    return plan


def span_of(field: ShapeField) -> tuple[int, int]:
    """Return the registers that a value needs, as first and one past the last."""
    first = field.register_ or 0
    last = first + size_of(field)
    if isinstance(field.fault, int):
        return min(first, field.fault), max(last, field.fault + 1)
    return first, last


def registers_of(value: float, field: ShapeField) -> list[int]:
    """Return the registers that hold a value given in the field's unit as sent."""
    number = value / field.scale
    code = _FORMATS[field.as_]
    data = struct.pack(code, number if code == ">f" else round(number))
    words = list(struct.unpack(f">{len(data) // 2}H", data))
    return words if field.words == "high first" else words[::-1]


def number_of(registers: list[int], field: ShapeField) -> float:
    """Return the number that registers hold, as sent, before `scale`."""
    words = registers if field.words == "high first" else registers[::-1]
    data = struct.pack(f">{len(words)}H", *words)
    return float(struct.unpack(_FORMATS[field.as_], data)[0])


class RtuFramer:
    """Finds requests and their responses in the raw stream of one device."""

    def __init__(self, shape: Shape) -> None:
        requests = [request for request, _ in plan_of(shape)]
        self._sent = [request_bytes(shape.device, r) for r in requests]
        self._headers = [
            bytes([r.device or shape.device, FUNCTIONS[r.table], 2 * r.size]) for r in requests
        ]
        self._waiting_for: int | None = None
        self._rest = b""
        self._in_garbage = False
        self.dropped = 0

    def reset(self, *, begins: bool) -> None:
        """Drop what waits; a frame says itself where it begins."""
        self.dropped += len(self._rest)
        self._rest = b""
        self._waiting_for = None
        self._in_garbage = False

    @property
    def pending(self) -> int:
        """Bytes that wait for the rest of their frame."""
        return len(self._rest)

    def feed(self, chunk: bytes) -> list[Cut]:
        """Return the answered requests; their data is one byte, the request's number, and the
        response. A stretch that is no frame is one cut with a fault.
        """
        data, at = self._rest + chunk, 0
        cuts: list[Cut] = []
        while at < len(data):
            size = self._request_at(data, at)
            if size is None:
                size = self._response_at(data, at, cuts)
            if size == 0:
                break
            if size is None:
                if not self._in_garbage:
                    cuts.append(Cut(data[at : at + 1], 0, 0, "check"))
                self._in_garbage = True
                self.dropped += 1
                at += 1
                continue
            self._in_garbage = False
            at += size
        self._rest = data[at:]
        return cuts

    def _request_at(self, data: bytes, at: int) -> int | None:
        piece = data[at : at + 8]
        for number, sent in enumerate(self._sent):
            if piece == sent:
                self._waiting_for = number
                self.dropped += 8
                return 8
        if len(piece) < 8 and any(sent.startswith(piece) for sent in self._sent):
            return 0
        return None

    def _response_at(self, data: bytes, at: int, cuts: list[Cut]) -> int | None:
        if self._waiting_for is None:
            return None
        header = self._headers[self._waiting_for]
        piece = data[at : at + 5 + header[2]]
        if piece[:3] == header[: len(piece)]:
            size = 5 + header[2]
        elif piece[:2] == bytes([header[0], header[1] | 0x80])[: len(piece)]:
            size = 5
        else:
            return None
        if len(piece) < size:
            return 0
        piece = piece[:size]
        if crc16(piece[:-2]) != piece[-2:]:
            return None
        fault: Fault = ""
        cuts.append(Cut(bytes([self._waiting_for]) + piece, size, len(data) - at - size, fault))
        self._waiting_for = None
        return size


class AsciiFramer:
    """Finds requests and responses sent as hex digits: the frames are those of RTU inside.

    ``:`` device function ... LRC ``CR LF``, two digits a byte (over Serial Line V1.02, section
    2.5.2).
    """

    def __init__(self, shape: Shape) -> None:
        self._inner = RtuFramer(shape)
        self._rest = b""
        self.dropped = 0

    def reset(self, *, begins: bool) -> None:
        """Drop what waits; a colon says where a frame begins."""
        self.dropped += len(self._rest)
        self._rest = b""
        self._inner.reset(begins=begins)

    @property
    def pending(self) -> int:
        """Bytes that wait for the rest of their frame."""
        return len(self._rest)

    def feed(self, chunk: bytes) -> list[Cut]:
        """Return the answered requests, as `RtuFramer` does."""
        *whole, self._rest = (self._rest + chunk).split(b"\r\n")
        after = len(self._rest) + sum(len(piece) + 2 for piece in whole)
        cuts: list[Cut] = []
        for piece in whole:
            after -= len(piece) + 2
            frame = rtu_of(piece)
            if frame is None:
                self.dropped += len(piece) + 2
                cuts.append(Cut(piece[:SHOWN], 0, 0, "check"))
                continue
            found = self._inner.feed(frame)
            if not found:
                self.dropped += len(piece) + 2
            cuts += [cut._replace(size=len(piece) + 2, after=after) for cut in found]
        if len(self._rest) > MOST_DIGITS:
            self.dropped += len(self._rest)
            self._rest = b""
            cuts.append(Cut(b"", 0, 0, "too_long"))
        return cuts


def rtu_of(line: bytes) -> bytes | None:
    """Return the RTU frame that a line of hex digits stands for; None where it is none."""
    start = line.rfind(b":")
    try:
        body = bytes.fromhex(line[start + 1 :].decode("ascii"))
    except ValueError:
        return None
    if start < 0 or len(body) < 2 or lrc(body[:-1]) != body[-1]:
        return None
    return body[:-1] + crc16(body[:-1])


def on_the_wire(shape: Shape, frame: bytes) -> bytes:
    """Return an RTU frame as the line format sends it.

    Parameters
    ----------
    shape : Shape
        Of registers.
    frame : bytes
        With its CRC.
    """
    if shape.transmission == "rtu":
        return frame
    body = frame[:-2]
    return b":" + (body + bytes([lrc(body)])).hex().upper().encode() + b"\r\n"


class RtuDecoder:
    """Reads responses by the registers of one shape."""

    def __init__(self, shape: Shape) -> None:
        self._shape = shape
        self._plan = plan_of(shape)

    def reset(self) -> None:
        """Nothing is remembered."""

    def decode(self, frame: bytes) -> Parsed | None:
        """Return what a response says; the first byte is the number of its request."""
        (request, names), body = self._plan[frame[0]], frame[1:]
        if body[1] & 0x80:
            return self._exception(body[2], names)
        words = list(struct.unpack(f">{request.size}H", body[3:-2]))
        values, notes = [], []
        for name in names:
            value, note = _value(name, self._shape.channel[name], words, request.address)
            values.append(value)
            if note is not None:
                notes.append(note)
        cold = {v.field: v.value for v in values}
        for at, value in enumerate(values):
            source = self._shape.channel[value.field].cold_junction
            if source is not None and value.value is not None:
                values[at] = value._replace(cold_junction_c=cold_junction_or_none(cold.get(source)))
        return Parsed(tuple(values), tuple(notes))

    def _exception(self, code: int, names: list[str]) -> Parsed:
        text = f"Modbus exception {code}: {EXCEPTIONS.get(code, 'not in the standard')}"
        values = [no_value(name, self._shape.channel[name], text)[0] for name in names]
        return Parsed(tuple(values), (Note("error", None, text),))


def _value(name: str, field: ShapeField, words: list[int], base: int) -> tuple[Value, Note | None]:
    at = (field.register_ or 0) - base
    number = number_of(words[at : at + size_of(field)], field)
    if isinstance(field.fault, int):
        word = fault_word(words[field.fault - base], field)
        if word is not None:
            return no_value(name, field, word)
    if number in field.sentinel or number != number or abs(number) == float("inf"):
        return no_value(name, field, blank_word(field))
    scaled = round(number * field.scale, 9) if field.scale != 1.0 else number
    if says_no_value(scaled, field.quantity):
        return no_value(name, field, blank_word(field))
    how = conversion(field.quantity, field.sent_unit)
    value = converted(scaled, how) if how is not None else scaled
    flags = in_range_flag(value, field)
    return Value(name, delay_ns(field), value, field.unit_out, flags, None), None
