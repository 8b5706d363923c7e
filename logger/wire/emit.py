"""A line format read backwards: values to the bytes that an instrument would send.

Pure. ``reader`` reads them back to the same values, as rounded by the field's ``write`` format.
"""

import json
import re
from collections.abc import Mapping
from typing import Any

from logger.model.errors import InputError
from logger.wire.checks import CHECKS
from logger.wire.modbus import (
    FUNCTIONS,
    Request,
    exception_bytes,
    on_the_wire,
    plan_of,
    registers_of,
    request_bytes,
    response_bytes,
    span_of,
)
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import FlagRule, Frame, Rule, ShapeField
from logger.wire.units import conversion

_GROUP = re.compile(r"\{(\w+)(?::([^{}]*))?\}")


class Emitter:
    """Writes lines of one shape.

    Parameters
    ----------
    shape : Shape
        Each rule that is to be written needs its ``write``.
    identity : str, optional
        What the instrument answers to the identity question.
    """

    def __init__(self, shape: Shape, *, identity: str = "Bench,Virtual,0001,1.0") -> None:
        self.shape = shape
        self.identity = identity
        plan = plan_of(shape) if shape.decode == "modbus" else []
        self._requests = {
            on_the_wire(shape, request_bytes(shape.device, r)): (r, names) for r, names in plan
        }
        self.asks = shape.asks
        """True when the instrument speaks only when asked: use `reply`."""

    def line(
        self,
        values: Mapping[str, float | None],
        *,
        stable: bool = True,
        net: bool = False,
        unit: str | None = None,
        cold_junction_c: float | None = None,
        faults: Mapping[str, str] | None = None,
        over: bool = False,
        under: bool = False,
        error: bool = False,
        busy: bool = False,
    ) -> bytes:
        """Return one line with its end.

        Parameters
        ----------
        values : mapping of str to float or None
            For each field of the shape [g, degC or uV]. None is no value: an open probe. A field
            that is left out is None.
        stable, net : bool
            What a scale says of the weight.
        unit : str, optional
            Unit that a scale prints; None is g. Values are converted to it. A unit that the shape
            does not know is printed as it is, with the number in g.
        cold_junction_c : float, optional
            Cold junction [degC], for shapes that send it beside an emf; else that field's value.
        faults : mapping of str to str, optional
            Field to word of its fault (``open``, ``touches ground``...), for shapes that send
            fault numbers.
        over, under, error, busy : bool
            The line says only that.

        Raises
        ------
        InputError
            When the shape has no such line to write.
        """
        if self.shape.decode == "modbus":
            raise InputError(self.shape.name, "registers have no lines", "use reply()")
        told = {"overload": over, "underload": under, "error": error, "busy": busy}
        kind = next((k for k, holds in told.items() if holds), None)
        if kind is not None:
            return self.special(kind)
        if self.shape.decode == "json":
            return framed(self.shape.frame, self._object(values, cold_junction_c, faults or {}))
        rule = self._rule("reading")
        if rule.each:
            return framed(self.shape.frame, self._named(rule, values, cold_junction_c))
        texts = self._texts(rule, values, stable, net, unit)
        return framed(self.shape.frame, _filled(rule.write or "", texts))

    def special(self, kind: str) -> bytes:
        """Return the line of another kind: ``overload``, ``underload``, ``error``, ``busy``,
        ``refused``, ``banner``, ``ignore``, ``tare``, ``mark`` or ``open``.
        """
        return framed(self.shape.frame, self._rule(kind).write or "")

    def reply(
        self,
        request: bytes,
        values: Mapping[str, float | None],
        *,
        exception: int | None = None,
        **how: Any,
    ) -> bytes:
        """Return what the instrument answers to a request; nothing when it is not for it.

        Parameters
        ----------
        request : bytes
            As received: one whole question.
        values : mapping of str to float or None
            As in `line` [g, degC or uV].
        exception : int, optional
            Modbus exception code to answer instead.
        **how
            As in `line`; for registers ``faults``, ``over`` and ``under`` count.
        """
        if self.shape.decode == "modbus":
            found = self._requests.get(request)
            if found is None:
                return self._no_such_register(request)
            if exception is not None:
                frame = exception_bytes(self.shape.device, found[0], exception)
                return on_the_wire(self.shape, frame)
            words = self._registers(*found, values, how)
            return on_the_wire(self.shape, response_bytes(self.shape.device, found[0], words))
        text = request.decode("latin-1")
        identify, ask = self.shape.identify, self.shape.ask
        if identify is not None and text == identify.send:
            return framed(self.shape.frame, self.identity)
        if ask != "none" and text in ask.questions:
            return self.line(values, **how)
        return b""

    def _no_such_register(self, request: bytes) -> bytes:
        """Return the exception to a question for other registers; empty where it is none."""
        number, rest = self.shape.device, request[2:-2]
        table = {code: name for name, code in FUNCTIONS.items()}.get(request[1] if rest else 0)
        if table is None or len(rest) != 4:
            return b""
        asked = Request(table, int.from_bytes(rest[:2], "big"), int.from_bytes(rest[2:], "big"))
        return exception_bytes(number, asked, 2) if request_bytes(number, asked) == request else b""

    def _rule(self, means: str) -> Rule:
        for rule in self.shape.line:
            if rule.means == means and rule.write is not None:
                return rule
        raise InputError(
            f'shape."{self.shape.name}"', f"no line with means = {means!r} and write", "add write"
        )

    def _texts(
        self,
        rule: Rule,
        values: Mapping[str, float | None],
        stable: bool,
        net: bool,
        unit: str | None,
    ) -> dict[str, str]:
        texts: dict[str, str] = {}
        for name, field in self.shape.channel.items():
            shown = field.sent_unit if field.unit_group is None else unit or field.sent_unit
            texts[str(field.group)] = _number_text(values.get(name), field, shown, rule)
            if field.unit_group is not None:
                texts[field.unit_group] = shown
        states = {"stable": stable, "net": net}
        for name, flag in self.shape.flag.items():
            texts[flag.group] = _flag_text(flag, states[name], texts.get(flag.group))
        return texts

    def _named(
        self, rule: Rule, values: Mapping[str, float | None], cold_junction_c: float | None
    ) -> str:
        cells = []
        for name, field in self.shape.channel.items():
            value = values.get(name)
            if value is None and name == "cj":
                value = cold_junction_c
            text = _number_text(value, field, field.sent_unit, rule)
            cells.append(_filled(rule.write or "", {"ch": field.key or name.upper(), "v": text}))
        return rule.join.join(cells)

    def _object(
        self,
        values: Mapping[str, float | None],
        cold_junction_c: float | None,
        faults: Mapping[str, str],
    ) -> str:
        found: dict[str, Any] = {}
        for name, field in self.shape.channel.items():
            value = values.get(name)
            word = faults.get(name, "open" if value is None and field.fault else None)
            number = None
            if value is not None:
                number = float(format(_sent(value, field, field.sent_unit), field.write))
            _put(found, str(field.path), number)
            if isinstance(field.fault, str):
                _put(found, field.fault, _fault_code(word, field))
            if field.cold_junction is not None and cold_junction_c is not None:
                _put(found, field.cold_junction, round(cold_junction_c, 4))
        return json.dumps(found, separators=(",", ":"))

    def _registers(
        self,
        request: Request,
        names: list[str],
        values: Mapping[str, float | None],
        how: Mapping[str, Any],
    ) -> list[int]:
        words = [0] * request.size
        faults: Mapping[str, str] = how.get("faults") or {}
        told = "over" if how.get("over") else "under" if how.get("under") else None
        for name in names:
            field, value = self.shape.channel[name], values.get(name)
            word = faults.get(name, told) or ("open" if value is None else None)
            at = (field.register_ or 0) - request.address
            if value is not None and not (word and field.sentinel):
                sent = _sent(value, field, field.sent_unit)
                filled = registers_of(sent * field.scale, field)
            elif field.sentinel:
                filled = registers_of(field.sentinel[0] * field.scale, field)
            else:
                filled = [0] * (
                    span_of(field.model_copy(update={"fault": None}))[1] - (field.register_ or 0)
                )
            words[at : at + len(filled)] = filled
            if isinstance(field.fault, int):
                words[field.fault - request.address] = _fault_code(word, field)
        return words


def framed(frame: Frame, text: str) -> bytes:
    """Return a line as it goes over the wire, with start, check and end.

    Parameters
    ----------
    frame : Frame
        How lines begin and end.
    text : str
        What stands between.
    """
    body = text.encode(frame.encoding)
    start, end = frame.start.encode("latin-1"), frame.end.encode("latin-1")
    check = CHECKS.get(frame.check)
    if check is not None:
        digits = check.digits
        return start + body + (check.text(body) + end if digits else end + check.text(body + end))
    if end == b"\n":
        body += b"\r"
    return start + body + end


def _filled(template: str, texts: Mapping[str, str]) -> str:
    return _GROUP.sub(lambda m: format(texts.get(m[1], ""), m[2] or ""), template)


def _sent(value: float, field: ShapeField, unit: str) -> float:
    """Return the number that stands for a value given in g, degC or uV."""
    how = conversion(field.quantity, unit)
    if how is not None:
        value = (value - how.offset) / how.factor
    return value / field.scale


def _number_text(value: float | None, field: ShapeField, unit: str, rule: Rule) -> str:
    if value is None:
        blank = [*rule.blank, *field.blank]
        sentinel = [*rule.sentinel, *field.sentinel]
        if blank:
            return blank[-1]
        if sentinel:
            return format(sentinel[0], field.write)
        raise InputError("the virtual bench", "no way to write a missing value", "name a blank")
    text = format(_sent(value, field, unit), field.write)
    if float(text.replace(" ", "")) == 0:
        text = text.replace("-", "+" if "+" in field.write else " ")
    return text.replace(".", ",") if field.decimal == "," else text


def _flag_text(flag: FlagRule, holds: bool, so_far: str | None) -> str:
    if flag.bit is not None:
        bits = ord(so_far) if so_far else 0x30
        on = holds == bool(flag.when)
        return chr(bits | 1 << flag.bit) if on else chr(bits & ~(1 << flag.bit))
    options = flag.true if holds else flag.false
    if so_far and holds:
        return so_far  # the unit itself says stable
    return options[0] if options else ""


def _fault_code(word: str | None, field: ShapeField) -> int:
    if word is None:
        return 0
    return next((code for code, text in field.faults.items() if text == word), 1)


def _put(found: dict[str, Any], path: str, value: Any) -> None:
    steps = path.split(".")
    here: Any = found
    for step, after in zip(steps, [*steps[1:], None], strict=True):
        key: Any = int(step) if step.isdecimal() else step
        if isinstance(here, list):
            here.extend([None] * (key + 1 - len(here)))
        if after is None:
            here[key] = value
            return
        inner = here[key] if isinstance(here, list) else here.get(key)
        if inner is None:
            inner = here[key] = [] if after.isdecimal() else {}
        here = inner
