"""The faults of instruments: when each strikes, and what must be noticed of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np

from logger.correct.channel import Corrector
from logger.correct.check import CheckResult, check_readings
from logger.model.errors import OutOfRangeError
from logger.model.files import bench_from_text

JUNCTION_C = 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A row of the table with its faults and what must be noticed."""

    name: str
    faults: tuple[str, ...]
    statuses: frozenset[str] = frozenset()
    """One of these must be the channel's status at some time..."""
    never_live: bool = True
    """...and from `LATE_S` on the channel must not be live while the fault is on."""
    port: str = ""
    """Status of the port at some time."""
    events: frozenset[str] = frozenset()
    """Kinds that the file must hold near the fault."""
    says: str = ""
    """Part of what an alarm, a channel or a port says."""
    loses: float = 0.0
    """Readings that may be missing beyond what the fault swallowed [s of readings]."""
    quiet: str = "nothing: the values stay right"
    told_at: str = ""
    """What tells it, when no reader can know it from the values."""
    proof: Callable[[], bool] = lambda: True
    """Whether it really tells it."""
    whole: bool = False
    """No reading of the instrument may be missing in the whole batch."""


def _check(shown_c: float, reference_c: float) -> CheckResult:
    t_s = np.arange(0.0, 40.0, 0.5)
    return check_readings(
        t_s, np.full(t_s.shape, shown_c), reference=reference_c, u_reference=0.05, unit="degC",
        step=0.01,
    )  # fmt: skip


def reversed_probe_is_refused() -> bool:
    """At 0 degC with its poles exchanged a probe shows twice the cold junction."""
    try:
        _check(2 * JUNCTION_C - 0.0, 0.0)
    except OutOfRangeError:
        return True
    return False


def wrong_wire_is_measured() -> bool:
    """Its 1.5 % from the junction on are found at the boiling point, and an old check fades."""
    text = (
        '[[instrument]]\nid = "p"\nport = "/dev/x"\nshape = "comma list of probes"\n'
        '[[channel]]\nid = "water"\ninstrument = "p"\nfield = "t1"\nrole = "water"\n'
        'sensor = { kind = "thermocouple", type = "T", class = 1 }\n'
        'correction = { offset = "0.1 K", checked = 2026-11-01, by = "ice point", u = 0.1 }\n'
    )
    (channel,) = bench_from_text(text, "bench").channel
    _, fresh = Corrector(channel, date(2026, 11, 20)).value(45.0, "degC", None)
    _, old = Corrector(channel, date(2027, 6, 20)).value(45.0, "degC", None)
    found = _check(JUNCTION_C + 0.985 * (99.97 - JUNCTION_C), 99.97).offset
    return abs(found - 0.015 * (99.97 - JUNCTION_C)) < 0.01 and old > fresh


def _set(*names: str) -> frozenset[str]:
    return frozenset(names)


CASES = (
    Case(name="unplug, replug", faults=("unplug@30+15:bath_scale",), statuses=_set("stale"),
         port="lost", events=_set("lost", "connected", "gap"), loses=6.0),
    Case(name="another device takes the name", faults=("wrong_device@70+25:bath_scale",),
         statuses=_set("stale"), port="wrong_device", events=_set("wrong_device", "gap"),
         says="nothing from it is recorded", loses=6.0),
    Case(name="partial line", faults=("partial@112:bath_scale",), never_live=False, loses=1.0,
         quiet="nothing; one line more is counted as unread"),
    Case(name="garbage", faults=("garbage@122+12:bath_scale",), statuses=_set("stale"),
         events=_set("gap"), loses=1.5),
    Case(name="wrong baud rate", faults=("wrong_baud@150+25:bath_scale",), statuses=_set("stale"),
         events=_set("gap"), says="check the baud rate", loses=1.5),
    Case(name="merged lines, missing ends", faults=("merged@190+12:bath_scale",), never_live=False,
         events=_set("bad_lines"), says="can't be read", loses=1.5,
         # No line reads while it lasts, and the first ones after it are not believed: too short a
         # time to be sure that somebody looks.
         statuses=_set("stale", "untrusted")),
    Case(name="not UTF-8", faults=("non_utf8@220+12:bath_scale",), statuses=_set("stale"),
         events=_set("bad_lines", "gap"), says="can't be read", loses=1.0),
    Case(name="NUL before lines", faults=("nul@40+10:bench_scale",), never_live=False, whole=True),
    Case(name="lines in slices", faults=("split@60+20:bench_scale",), never_live=False, whole=True),
    Case(name="echo, banner, comments", faults=("echo@205+12:probes",), never_live=False),
    Case(name="endless line", faults=("endless@250+25:bath_scale",), statuses=_set("stale"),
         events=_set("gap"), loses=3.0),
    Case(name="flood", faults=("flood@660+30:bench_scale",), never_live=False,
         quiet="nothing: the same value, live"),
    Case(name="rate drop", faults=("slow@300+30:bath_scale",), never_live=False,
         events=_set("gap"), loses=1.0),
    Case(name="silence", faults=("silence@350+25:bath_scale",), statuses=_set("stale"),
         events=_set("stale", "gap"), says="no readings", loses=1.0),
    Case(name="overload", faults=("overload@395+10:bath_scale",), statuses=_set("over"),
         events=_set("overload"), says="over the instrument's range"),
    Case(name="underload", faults=("underload@412+10:bath_scale",), statuses=_set("under"),
         events=_set("underload"), says="under the instrument's range"),
    Case(name="tare mid-run", faults=("tare@560+50:bath_scale",), never_live=False,
         events=_set("tare_suspected"), says="tared?"),
    Case(name="unit switched", faults=("unit@630+30:bath_scale",), never_live=False,
         events=_set("unit_change"), says="unit changed"),
    Case(name="stuck value", faults=("stuck@300+130:fat",), never_live=False,
         statuses=_set("stuck"), events=_set("stuck"), says="stuck?"),
    Case(name="latched board repeats", faults=("repeats@240+130:emulsion",), never_live=False,
         statuses=_set("stuck"), events=_set("stuck"), says="stuck?"),
    Case(name="open thermocouple", faults=("open@60+25:core",), statuses=_set("open"),
         events=_set("open"), says="open circuit"),
    Case(name="probe touches ground", faults=("ground@120+25:room",), statuses=_set("fault"),
         events=_set("fault"), says="fault"),
    Case(name="cold junction drifts", faults=("cold_junction@200+300:core",), never_live=False,
         events=_set("cold_junction"), says="connection block"),
    Case(name="probes exchanged at a replug",
         faults=("unplug@100+15:probes", "swapped@100+70:fat"), never_live=False,
         events=_set("exchange_suspected"), says="changed places", loses=6.0),
    Case(name="reversed polarity", faults=("reversed@520+60:room",), never_live=False,
         told_at="ice point before the run: the sensor check refuses it",
         proof=reversed_probe_is_refused),
    Case(name="wrong extension wire", faults=("wrong_wire@520+60:water",), never_live=False,
         told_at="boiling point before the run; a check overdue widens the ±",
         proof=wrong_wire_is_measured),
)  # fmt: skip
