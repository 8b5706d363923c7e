"""Samples of a simulated run as the bytes that an instrument sends for them.

A line shape read backwards through ``logger.wire.emit``; microvolts are made of degrees by ITS-90.
Pure; used by ``instruments`` and by tests of single shapes.
"""

from typing import Any

import numpy as np

from logger.model.errors import InputError
from logger.model.reading import Flag
from logger.science.metrology.its90 import emf_mv
from logger.virtual.readings.simulate import SimulatedRun
from logger.virtual.readings.traces import SCALE_CHANNELS, Array, Trace, Wiring
from logger.wire.emit import Emitter
from logger.wire.shapes.shape import Shape

THERMOCOUPLE = "T"
"""Type of every probe of the virtual bench."""
_IDLE_S = 10.0
"""After the batch an instrument goes on with this much of its end, again and again."""


class Printer:
    """Prints the samples of one instrument.

    Parameters
    ----------
    wiring : Wiring
        The instrument and its channels, in the order of the shape's fields.
    shape : Shape
        Its line shape.
    run : SimulatedRun
        What it reads; samples from before faults of the line.

    Raises
    ------
    InputError
        If the shape has too few fields.
    """

    def __init__(self, wiring: Wiring, shape: Shape, run: SimulatedRun) -> None:
        fields = [name for name in shape.channel if name != "cj"]
        if len(fields) < len(wiring.channels):
            raise InputError(
                f"virtual instrument {wiring.id!r}",
                f"shape {shape.name!r} has {len(fields)} fields",
                f"it needs {len(wiring.channels)}",
            )
        self.wiring = wiring
        self.shape = shape
        self.emitter = Emitter(shape, identity=f"Virtual,{wiring.id},{run.seed},1")
        self.field_of = dict(zip(wiring.channels, fields, strict=False))
        self._traces = [run.full[channel] for channel in wiring.channels]
        # Inputs of a converter board that nothing is plugged into are bridged: no emf, not open.
        self._bridged = {
            f: 0.0 for f in fields[len(wiring.channels) :] if shape.channel[f].quantity == "emf"
        }
        self._times_s = self._traces[0].t_s
        self._junction_c = self._junction(run)
        self._values = [self._as_sent(trace) for trace in self._traces]
        self.delay_s = shape.channel[fields[0]].delay_s
        self._period_s = 1.0 / wiring.rate_hz
        if len(self._times_s) > 1:
            self._period_s = float(self._times_s[1] - self._times_s[0])

    def _junction(self, run: SimulatedRun) -> Array:
        true_c = run.probe_c["cold_junction"]
        shown = np.interp(self._times_s, np.arange(len(true_c)), true_c)
        for fault in run.faults:
            if fault.name == "cold_junction" and fault.target in self.wiring.channels:
                span = self._traces[0].span(fault.at_s, fault.until_s)
                share = (self._times_s[span] - fault.at_s) / fault.for_s
                shown[span] += 6.0 * np.sin(np.pi * share)
        return np.round(shown, 3)

    def _as_sent(self, trace: Trace) -> Array:
        field = self.shape.channel[self.field_of[trace.channel]]
        if field.quantity != "emf":
            return trace.value
        known = np.where(np.isnan(trace.value), 0.0, trace.value)
        sent = 1e3 * (emf_mv(THERMOCOUPLE, known) - emf_mv(THERMOCOUPLE, self._junction_c))
        return np.where(np.isnan(trace.value), np.nan, sent)

    def time_s(self, number: int) -> float:
        """Return when a sample is taken, counted from 0 and on beyond the batch [s]."""
        last = len(self._times_s) - 1
        if number <= last:
            return float(self._times_s[number])
        return float(self._times_s[last]) + (number - last) * self._period_s

    def number_at(self, t_s: float) -> int:
        """Return the number of the last sample taken by a time [s]; 0 before the first."""
        return max(0, int((t_s - float(self._times_s[0])) / self._period_s + 1e-9))

    def line(self, number: int) -> bytes:
        """Return the line of a sample."""
        values, how = self._said(number)
        return self.emitter.line(values, **how)

    def reply(self, request: bytes, number: int) -> bytes:
        """Return what is answered to a question with a sample; empty when it is not for it."""
        values, how = self._said(number)
        return self.emitter.reply(request, values, **how)

    def _place(self, number: int) -> int:
        count = len(self._times_s)
        if number < count:
            return number
        idle = max(1, min(count, int(_IDLE_S / self._period_s)))
        return count - idle + (number - count) % idle

    def _said(self, number: int) -> tuple[dict[str, float | None], dict[str, Any]]:
        place = self._place(number)
        values: dict[str, float | None] = {**self._bridged}
        faults: dict[str, str] = {}
        how: dict[str, Any] = {}
        for trace, sent in zip(self._traces, self._values, strict=True):
            field = self.field_of[trace.channel]
            value, flags = float(sent[place]), int(trace.flags[place])
            values[field] = None if value != value else value
            if flags & Flag.FAULT:
                faults[field] = "touches ground"
            if trace.channel in SCALE_CHANNELS:
                how |= self._weight(trace, flags, number)
        if faults:
            how["faults"] = faults
        if "cj" in self.shape.channel:
            junction_c = float(self._junction_c[place])
            values["cj"] = how["cold_junction_c"] = junction_c
        return values, how

    def _weight(self, trace: Trace, flags: int, number: int) -> dict[str, Any]:
        how: dict[str, Any] = {"stable": bool(flags & Flag.STABLE), "net": bool(flags & Flag.NET)}
        means = {rule.means for rule in self.shape.line}
        if flags & Flag.OVER:
            how["over" if "overload" in means else "error"] = True
        if flags & Flag.UNDER:
            how["under" if "underload" in means else "error"] = True
        t_s = self.time_s(number)
        unit = next((u for start, stop, u in trace.units if start <= t_s < stop), None)
        if unit is not None:
            how["unit"] = unit
        return how
