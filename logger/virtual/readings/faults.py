"""A script of faults for the virtual bench: what breaks, when, for how long and where.

Pure. A fault is written ``name@seconds``, ``name@seconds:target`` or
``name@seconds+length:target``, for example ``unplug@300+20:bath_scale``. Faults of values change
the traces here; faults of the line are acted out on the bytes by ``instruments``, and here only
take away the samples lost by them.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from logger.model.errors import InputError
from logger.model.reading import Flag
from logger.virtual.readings.traces import (
    OVEN,
    PROBE_CHANNELS,
    SCALE_CHANNELS,
    WIRING,
    Trace,
    Wiring,
)

Where = Literal["line", "scale", "probe", "any"]
FOREVER_S = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of fault.

    Attributes
    ----------
    says : str
        What it is, in a few words.
    where : str
        ``line``: the bytes of an instrument; ``scale``, ``probe`` or ``any``: values of a channel.
    for_s : float
        Usual length [s].
    loses : bool
        Whether the samples meanwhile never arrive as readings.
    """

    says: str
    where: Where
    for_s: float
    loses: bool = False


FAULTS: dict[str, Kind] = {
    "unplug": Kind(says="pulled plug, put back", where="line", for_s=15.0, loses=True),
    "wrong_device": Kind(
        says="another device takes the port's name", where="line", for_s=20.0, loses=True
    ),
    "partial": Kind(says="the end of a line is cut off", where="line", for_s=0.5, loses=True),
    "split": Kind(says="lines come in slices", where="line", for_s=10.0),
    "garbage": Kind(says="random bytes", where="line", for_s=6.0, loses=True),
    "wrong_baud": Kind(says="bytes as at a wrong baud rate", where="line", for_s=20.0, loses=True),
    "merged": Kind(says="line ends go missing", where="line", for_s=3.0, loses=True),
    "nul": Kind(says="NUL bytes before lines", where="line", for_s=5.0),
    "non_utf8": Kind(says="bytes that are no text in lines", where="line", for_s=5.0, loses=True),
    "endless": Kind(says="1 MB without a line end", where="line", for_s=2.0, loses=True),
    "flood": Kind(says="50 000 lines in a second", where="line", for_s=1.0),
    "repeats": Kind(says="a latched board sends the same again", where="any", for_s=90.0),
    "slow": Kind(says="one line in five", where="line", for_s=30.0, loses=True),
    "silence": Kind(says="no lines", where="line", for_s=20.0, loses=True),
    "echo": Kind(says="echoed commands, comments and a banner", where="line", for_s=5.0),
    "stuck": Kind(says="a value that no longer moves", where="any", for_s=150.0),
    "overload": Kind(says="over the range", where="scale", for_s=5.0),
    "underload": Kind(says="under the range", where="scale", for_s=5.0),
    "tare": Kind(says="the tare key is pressed", where="scale", for_s=FOREVER_S),
    "unit": Kind(says="the scale shows ounces", where="scale", for_s=60.0),
    "open": Kind(says="open circuit of a thermocouple", where="probe", for_s=20.0),
    "ground": Kind(says="a probe touches ground", where="probe", for_s=20.0),
    "swapped": Kind(says="fat and water probes exchanged", where="probe", for_s=FOREVER_S),
    "reversed": Kind(
        says="a thermocouple with its poles exchanged", where="probe", for_s=FOREVER_S
    ),
    "cold_junction": Kind(says="the cold junction warms up", where="probe", for_s=300.0),
    "wrong_wire": Kind(says="extension wire of another type", where="probe", for_s=FOREVER_S),
}
"""By name."""

_WRITTEN = re.compile(
    r"(?P<name>\w+)@(?P<at>\d+(?:\.\d+)?)(?:\+(?P<long>\d+(?:\.\d+)?))?(?::(?P<target>\w+))?"
)
_USUAL_TARGET = {"line": "bath_scale", "scale": "bath_scale", "probe": "fat", "any": "bath_scale"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault: kind by name, start and length [s], instrument or channel it strikes."""

    name: str
    at_s: float
    for_s: float
    target: str

    @property
    def until_s(self) -> float:
        """When it is over [s]."""
        return self.at_s + self.for_s

    @property
    def kind(self) -> Kind:
        """What kind it is."""
        return FAULTS[self.name]

    def strikes(self, t_s: float) -> bool:
        """Whether it is on at a time [s]."""
        return self.at_s <= t_s < self.until_s


def parse_fault(text: str) -> Fault:
    """Read a fault such as ``"unplug@300:bath_scale"``.

    Raises
    ------
    InputError
        If it is not written so, or the name or the target is unknown; lists the known ones.
    """
    where = f"fault {text!r}"
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        raise InputError(
            where,
            "it is no fault with a time",
            f"write for example 'unplug@300:bath_scale'; faults are {', '.join(FAULTS)}",
        )
    name = match["name"]
    if name not in FAULTS:
        raise InputError(where, f"no fault {name!r}", f"give one of {', '.join(FAULTS)}")
    kind = FAULTS[name]
    targets = _targets(kind.where)
    target = match["target"] or _USUAL_TARGET[kind.where]
    if target not in targets:
        raise InputError(where, f"no instrument {target!r}", f"give one of {', '.join(targets)}")
    long_s = float(match["long"]) if match["long"] else kind.for_s
    return Fault(name=name, at_s=float(match["at"]), for_s=long_s, target=target)


def faults_of(faults: Iterable[str | Fault]) -> tuple[Fault, ...]:
    """Return faults, those written as text read with `parse_fault`."""
    return tuple(f if isinstance(f, Fault) else parse_fault(f) for f in faults)


def _targets(where: Where) -> tuple[str, ...]:
    if where == "line":
        return tuple(w.id for w in (*WIRING, OVEN))
    if where == "scale":
        return SCALE_CHANNELS
    return PROBE_CHANNELS if where == "probe" else (*SCALE_CHANNELS, *PROBE_CHANNELS)


# -- on values ------------------------------------------------------------------------------


def spoil_values(traces: dict[str, Trace], faults: Iterable[Fault], junction_c: float) -> None:
    """Change the traces by the faults of values, in place.

    Parameters
    ----------
    traces : dict of str to Trace
        By channel id.
    faults : iterable of Fault
        Faults of the line are passed over.
    junction_c : float
        Usual temperature of the cold junction [degC].
    """
    for fault in faults:
        if fault.kind.where == "line" or fault.target not in traces:
            continue
        if fault.name == "swapped":
            _swap(traces["fat"], traces["water"], fault)
        else:
            _spoil(traces[fault.target], fault, junction_c)


def _swap(one: Trace, other: Trace, fault: Fault) -> None:
    span = one.span(fault.at_s, fault.until_s)
    for name in ("value", "flags"):
        mine, theirs = getattr(one, name), getattr(other, name)
        kept = mine[span].copy()
        mine[span] = theirs[span]
        theirs[span] = kept


def _spoil(trace: Trace, fault: Fault, junction_c: float) -> None:
    span = trace.span(fault.at_s, fault.until_s)
    value, flags = trace.value, trace.flags
    if span.start >= len(value):
        return
    steady = np.uint16(~(Flag.STABLE | Flag.UNSTABLE) & 0xFFFF)
    none = {"open": Flag.OPEN, "ground": Flag.FAULT, "overload": Flag.OVER, "underload": Flag.UNDER}
    if fault.name in none:
        value[span] = np.nan
        flags[span] = (flags[span] & steady) | np.uint16(none[fault.name])
    elif fault.name in ("stuck", "repeats"):
        value[span] = value[span.start]
        flags[span] = flags[span.start]
    elif fault.name == "tare":
        value[span] -= value[span.start]
        flags[span] |= np.uint16(Flag.NET)
    elif fault.name == "unit":
        trace.units.append((fault.at_s, fault.until_s, "oz"))
    elif fault.name == "reversed":
        value[span] = 2.0 * junction_c - value[span]
    elif fault.name == "wrong_wire":
        value[span] = junction_c + 0.985 * (value[span] - junction_c)
    elif fault.name == "cold_junction":
        # The reader takes the junction for colder than it is, ever more so, and then recovers.
        share = (trace.t_s[span] - fault.at_s) / fault.for_s
        value[span] -= 6.0 * np.sin(np.pi * share)


# -- on the line ----------------------------------------------------------------------------


def lost_samples(trace: Trace, wiring: Wiring, faults: Iterable[Fault]) -> Trace:
    """Return the trace without the samples that the faults of its line swallow.

    Parameters
    ----------
    trace : Trace
        All samples of a channel.
    wiring : Wiring
        The instrument it belongs to.
    faults : iterable of Fault
        What goes wrong.
    """
    keep = np.ones(len(trace.t_s), dtype=bool)
    for fault in faults:
        if fault.target != wiring.id or not fault.kind.loses:
            continue
        span = trace.span(fault.at_s, fault.until_s)
        if fault.name == "slow":
            keep[span] = np.arange(span.stop - span.start) % 5 == 0
        elif fault.name == "partial":
            keep[span.start : span.start + 2] = False  # the rest of one line runs into the next
        elif fault.name == "merged":
            count = span.stop - span.start
            keep[span.start : span.start + count - count % 2] = False
        else:
            keep[span] = False
            if fault.name in ("garbage", "wrong_baud"):
                keep[span.stop : span.stop + 1] = False  # the last of it has no end either
    return trace.kept(keep)
