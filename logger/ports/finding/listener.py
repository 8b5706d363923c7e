"""What speaks on one port: listened to at one setting after the other, then asked.

1. It is listened to at the usual settings, a little over a second each.
2. Where not a byte came it is asked: at the settings of the formats first, then every question at
   the usual ones, then devices with registers by their numbers.
3. Where bytes came that no format fits, they were sent at another setting: the others are listened
   to, and then all of them so long that one that speaks once in five seconds is heard.

An address that takes no line settings is one setting. What reads clearly ends the search.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

from logger.model.errors import PortError
from logger.model.ports.forms import form_of
from logger.ports.finding.asking import Asking, knocks_of
from logger.ports.finding.bus import NUMBERS, OnBus, devices_on
from logger.ports.finding.heard import Heard
from logger.ports.opening import close_port, open_port
from logger.wire.questions import ASKED, REGISTERS, SETTINGS, USUAL
from logger.wire.recognise import ENOUGH, LINES, Match, recognise, units_of
from logger.wire.shapes.shape import Shape, builtin_shapes, shapes_from_text
from logger.wire.shapes.tables import PortLine
from logger.wire.shapes.together import together
from logger.wire.teaching.registers import registers_in

EACH_S = 1.1
"""Listening at a setting [s]: one that speaks once a second is heard."""
SHORT_S = 0.4
"""Listening at an unusual setting of a port that was silent so far [s]."""
PATIENT_S = 8.0
"""Further listening to a port in all where text is heard, until enough lines came [s]."""
AGAIN_S = 0.5
SLOW_S = 5.5
"""An instrument that speaks once in 5 s is heard within it [s]."""
_DEGREE = re.compile(rb"[\xb0\xba\xf8](?= ?[CF])")
"""A degree sign of Latin-1 and the like, which is no UTF-8."""
LOST = "\N{REPLACEMENT CHARACTER}"
TEXT = 0.9
"""Share of the characters that are text where the baud rate is right."""
CLEAR = 0.98
"""Share of text in lines that were surely heard at the right setting."""
MANY = 30
"""Lines after which a format that fits would be known."""
TEXT_MAX = 4000
"""Bytes of unknown lines that are kept to teach a format from."""
SAMPLE_MAX = 60

Progress = Callable[[str, int, int], None]
Setting = tuple[int, int, str]


class Round(NamedTuple):
    """What to ask at one setting."""

    line: PortLine
    shapes: list[Shape]
    numbers: list[int]
    """Of devices with registers."""
    own: bool
    """Whether it is the setting of the formats themselves."""


class Listener:
    """Finds out what speaks on one port.

    Parameters
    ----------
    about : Heard
        The port, with nothing heard yet.
    shapes : mapping of str to Shape
        Line formats to tell apart.
    ask : bool
        Whether a quiet port is asked anything.
    progress : callable
        Told the port, how many steps were made, and of how many.
    """

    def __init__(
        self, about: Heard, shapes: Mapping[str, Shape], *, ask: bool, progress: Progress
    ) -> None:
        self._about = about
        self._shapes = shapes
        self._frames = {name: s for name, s in shapes.items() if s.decode == "binary"}
        form = form_of(about.device).name
        self._one_setting = form in ("socket", "http", "mqtt")
        self._ask = ask and form not in ("http", "mqtt")
        self._progress = progress
        self._steps = 0
        self._of = 0
        self._patience_s = PATIENT_S
        self._came = False
        self._clearest: tuple[float, bytes, PortLine] = (0.0, b"", PortLine())

    def listen(self, seconds: float) -> Heard:
        """Return what speaks there.

        Parameters
        ----------
        seconds : float
            How long the usual settings are listened to in all [s].
        """
        usual, other = self._settings()
        asked = self._asked(usual + other) if self._ask else []
        each_s = max(EACH_S, seconds / len(usual))
        self._of = len(usual) + len(asked) + len(other)
        found = self._heard_at(usual, each_s)
        if found is None and not self._came:
            found = self._answer(asked)
        if found is None:
            found = self._heard_at(other, each_s if self._came else SHORT_S)
        if found is None and (self._came or self._one_setting):
            found = self._slowly(usual + other)
        return found or self._unknown()

    def _settings(self) -> tuple[list[PortLine], list[PortLine]]:
        """Return the line settings to try: the usual ones and those of own formats, the others."""
        if self._one_setting:
            return [PortLine()], []
        lines: list[PortLine] = [_line(setting) for setting in SETTINGS]
        for shape in self._shapes.values():
            line = shape.port.model_copy(update={"settle_s": 0.0})
            if line not in lines:
                lines.append(line)
        built_in = builtin_shapes()
        own = [_setting(s.port) for name, s in self._shapes.items() if name not in built_in]
        usual = [line for line in lines if _setting(line) in [*SETTINGS[:USUAL], *own]]
        other = [line for line in lines if line not in usual]
        return (usual, other) if usual else (other, [])

    def _asked(self, lines: Sequence[PortLine]) -> list[Round]:
        """Return at which settings to ask what, and devices of which numbers, in order."""
        formats = [s for s in self._shapes.values() if not s.like and (s.asks or s.begin)]
        texts = [s for s in formats if not _on_bus(s)]
        buses = [s for s in formats if _on_bus(s)]
        if self._one_setting:
            return [Round(lines[0], formats, sorted({*NUMBERS, *(s.device for s in buses)}), True)]
        first, then = [], []
        for line in lines:
            at = _setting(line)
            own = [s for s in formats if _setting(s.port) == at]
            numbers = sorted({s.device for s in own if _on_bus(s)})
            if own:
                first.append(Round(line, own, numbers, own=True))
            others = [n for n in NUMBERS if n not in numbers] if at in REGISTERS and buses else []
            more = [s for s in texts if s not in own and at in ASKED]
            mine = [s for s in buses if s in own] + [s for s in buses if s not in own]
            if more or others:
                then.append(Round(line, [*more, *(mine if others else [])], others, own=False))
        return first + then

    def _heard_at(self, lines: Iterable[PortLine], seconds: float) -> Heard | None:
        """Listen at one setting after the other; None while nothing is sure."""
        for line in lines:
            self._step()
            found = self._open(line, partial(self._unasked, seconds=seconds))
            if isinstance(found, Heard):
                return found
            if self._note(found, line):
                return self._unknown()  # elsewhere it would be garbled
        return None

    def _slowly(self, lines: list[PortLine]) -> Heard | None:
        """Wait at each setting for a first line, and where one is heard for as many as needed."""
        clear, _, best = self._clearest
        lines = [best] if clear >= CLEAR else sorted(lines, key=lambda line: line != best)
        self._of = self._steps + len(lines)
        for line in lines:
            self._step()
            found = self._open(line, self._seldom)
            if isinstance(found, Heard):
                return found
            if self._note(found, line):
                return self._unknown()
        return None

    def _answer(self, asked: Iterable[Round]) -> Heard | None:
        """Ask at one setting after the other; None where nothing known answers."""
        for one in asked:
            self._step()
            found = self._open(one.line, partial(self._questioned, asked=one))
            if isinstance(found, Heard):
                return found
            clear = (_clearness(found), found, one.line)
            self._clearest = max(self._clearest, clear, key=lambda other: other[0])
        return None

    def _step(self) -> None:
        self._progress(self._about.device, self._steps, self._of)
        self._steps += 1

    def _note(self, heard: bytes, line: PortLine) -> bool:
        """Remember the clearest of what was heard; True where it is surely right and enough."""
        self._came |= bool(heard)
        one = (_clearness(heard), heard, line)
        self._clearest = max(self._clearest, one, key=lambda other: other[0])
        return one[0] >= CLEAR and _lines(heard) > LINES

    def _open(self, line: PortLine, look: Callable[[Asking], Heard | bytes]) -> Heard | bytes:
        """Return the instrument found at one setting, or what was wrong, or what came."""
        device = self._about.device
        try:
            port = open_port(device, line, read_s=0.05)
        except PortError as cause:
            return replace(self._about, error=str(cause).removeprefix(f"{device}: "))
        try:
            return look(Asking(port, device, line))
        except PortError as cause:
            return replace(self._about, error=str(cause))
        finally:
            close_port(port)

    def _unasked(self, asking: Asking, *, seconds: float) -> Heard | bytes:
        heard = asking.collect(seconds)
        match = self._best(heard, asked=None)
        while match is None and self._patience_s > 0 and _lines(heard) < MANY:
            if not self._promises(heard):
                break
            self._patience_s -= AGAIN_S
            heard += asking.collect(AGAIN_S)
            match = self._best(heard, asked=None)
        return heard if match is None else self._recognised(match, asking.line, heard, None)

    def _promises(self, heard: bytes) -> bool:
        """Whether more of it may be a format: it is text, or whole frames of bytes."""
        return _speaks(heard) or any(m.share >= ENOUGH for m in recognise(heard, self._frames))

    def _seldom(self, asking: Asking) -> Heard | bytes:
        heard, waited_s = b"", 0.0
        while waited_s < SLOW_S and b"\n" not in heard and (not heard or _speaks(heard)):
            heard += asking.collect(AGAIN_S, until=b"\n")
            waited_s += AGAIN_S
        for _ in range(LINES if _speaks(heard) else 0):
            heard += asking.collect(SLOW_S, until=b"\n")
        match = self._best(heard, asked=None)
        return heard if match is None else self._recognised(match, asking.line, heard, None)

    def _questioned(self, asking: Asking, *, asked: Round) -> Heard | bytes:
        """Knock, and where something answers ask properly."""
        texts = [s for s in asked.shapes if not _on_bus(s)]
        came = asking.knock(knocks_of(texts)) if texts else b""
        for shape in sorted(texts, key=_open_ended) if came else ():
            said, identity = asking.answer(shape)
            match = self._best(said, asked=shape.name) if said else None
            if match is not None and shape.factors:
                return self._numbers({shape.device: (shape, match.offered)}, asking.line, said)
            if match is not None and not (_trusts(shape) and asking.says_anyway(shape)):
                return self._recognised(match, asking.line, said, identity)
            came += said
        buses = [s for s in asked.shapes if _on_bus(s)]
        found, said = devices_on(asking, asked.numbers, buses, thoroughly=asked.own)
        if found:
            others = [n for n in NUMBERS if n not in asked.numbers]
            same = sorted(buses, key=lambda s: s.name != found[0].shape.name)
            return self._on_line(found + devices_on(asking, others, same)[0], asking.line)
        return came or said

    def _on_line(self, found: list[OnBus], line: PortLine) -> Heard:
        """Return the devices of one line as what was heard."""
        one = found[0]
        devices = {o.number: (o.shape, o.match.offered) for o in found}
        said = b"".join(device.said for device in found)
        if any(device.shape.factors for device in found):
            return self._numbers(devices, line, said)
        if len(found) == 1:
            heard = self._recognised(one.match, line, one.said, None)
            usual = self._shapes[one.shape.name].device
            heard = replace(heard, address=one.number if one.number != usual else None)
            return heard.reading(one.said, self._shapes[one.shape.name])
        text = together(devices, line)
        shape = next(iter(shapes_from_text(text, "registers").values()))
        offered = tuple(shape.channel)
        match = one.match._replace(shape=shape.name, offered=offered, left_out=())
        shapes = {**self._shapes, shape.name: shape}
        return replace(
            self._recognised(match, line, said, None, shapes), format_text=text, settings={}
        )

    def _numbers(
        self, devices: Mapping[int, tuple[Shape, tuple[str, ...]]], line: PortLine, said: bytes
    ) -> Heard:
        """Return what registers hold, where no device says the factor of a whole number."""
        text = together(devices, line)
        shape = next(iter(shapes_from_text(text, "registers").values()))
        factors = next(shape.factors for shape, _ in devices.values() if shape.factors)
        return replace(
            self._about,
            registers=registers_in(said, shape, factors),
            registers_text=text,
            baud=None if self._one_setting else line.baud,
        )

    def _best(self, heard: bytes, *, asked: str | None) -> Match | None:
        """Return what fits best: of lines nobody asked for, or of answers to one question."""
        for match in recognise(heard, self._shapes) if heard else ():
            own = match.shape == asked if asked else not self._shapes[match.shape].asks
            if match.claimed and own:
                return match
        return None

    def _unknown(self) -> Heard:
        """Return lines that no format fits, as clear as they were heard."""
        _, heard, line = self._clearest
        usual = PortLine()
        return replace(
            self._about,
            sample=_shown(heard),
            text=heard[-TEXT_MAX:].decode("latin-1"),
            baud=line.baud if heard else None,
            settings={
                key: getattr(line, key)
                for key in ("bits", "parity", "stop")
                if getattr(line, key) != getattr(usual, key)
            },
        )

    def _recognised(
        self,
        match: Match,
        line: PortLine,
        heard: bytes,
        identity: str | None,
        shapes: Mapping[str, Shape] | None = None,
    ) -> Heard:
        shape = (shapes or self._shapes)[match.shape]
        known = replace(
            self._about,
            shape=match.shape,
            share=match.share,
            fields=match.offered,
            quantity=tuple(shape.channel[f].quantity for f in match.offered),
            identity=identity,
            units=units_of(shape, match),
            left_out=match.left_out,
            whole=match.whole,
            baud=None if self._one_setting else line.baud,
            settings={
                key: getattr(line, key)
                for key in ("baud", "bits", "parity", "stop")
                if getattr(line, key) != getattr(shape.port, key) and not self._one_setting
            },
            sample=_shown(heard),
            text=heard[-TEXT_MAX:].decode("latin-1"),
        )
        return known.reading(heard, shape)


def _line(setting: Setting) -> PortLine:
    baud, bits, parity = setting
    return PortLine.model_validate({"baud": baud, "bits": bits, "parity": parity})


def _setting(line: PortLine) -> Setting:
    return line.baud, line.bits, line.parity


def _on_bus(shape: Shape) -> bool:
    """Whether its device is found by its number."""
    return shape.decode == "modbus" and shape.transmission == "rtu"


def _trusts(shape: Shape) -> bool:
    """Whether only its question says what its numbers are."""
    said = shape.unsaid or any(field.unit_group for field in shape.channel.values())
    return shape.decode == "lines" and not said


def _open_ended(shape: Shape) -> bool:
    """Whether its question has no line end, which would spoil the next one."""
    return shape.ask != "none" and shape.ask.send[-1] != "\n"


def _lines(heard: bytes) -> int:
    return max(heard.count(b"\n"), heard.count(b"\r"))


def _speaks(heard: bytes) -> bool:
    return _clearness(heard) > TEXT


def _clearness(heard: bytes) -> float:
    """Return the share of the characters that are text; a byte that is none in UTF-8 is not."""
    text = _DEGREE.sub(b"*", heard).decode("utf-8", "replace")
    good = sum((c.isprintable() and c != LOST) or c in "\r\n\t\x02\x03" for c in text)
    return good / len(text) if text else 0.0


def _shown(heard: bytes) -> str:
    lines = heard.replace(b"\r", b"").split(b"\n")
    line = lines[1] if len(lines) > 2 else lines[0]
    return line.decode("ascii", "backslashreplace")[:SAMPLE_MAX]
