"""What each instrument of the virtual bench reads, sample by sample, and how it is wired.

Plain data and arrays, pure. Made by ``simulate``, changed by ``faults``, printed as lines by
``instruments``.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """One instrument of the virtual bench.

    Attributes
    ----------
    shape : str
        Name of its line shape.
    rate_hz : float
        How often it samples.
    channels : tuple of str
        Channel ids in the order of the fields of its shape.
    baud : int
        Speed of its line [bit/s]; 8N1, which a pseudo-terminal can carry.
    """

    id: str
    shape: str
    rate_hz: float
    channels: tuple[str, ...]
    baud: int = 9600


WIRING: tuple[Wiring, ...] = (
    Wiring(
        id="probes",
        shape="comma list of probes",
        rate_hz=5.0,
        channels=("fat", "water", "emulsion", "bath"),
    ),
    Wiring(
        id="core_reader",
        shape="one object per line, microvolts",
        rate_hz=5.0,
        channels=("core", "room"),
        baud=115200,
    ),
    Wiring(
        id="bowl_scale",
        shape="asked weight, letter reply",
        rate_hz=10.0,
        channels=("bowl_scale",),
    ),
    Wiring(
        id="bath_scale",
        shape="flag-first comma weight",
        rate_hz=10.0,
        channels=("bath_scale",),
    ),
    Wiring(
        id="bench_scale",
        shape="fixed width weight, trailing question mark",
        rate_hz=5.0,
        channels=("bench_scale",),
    ),
)
"""The bench of the demo."""
OVEN = Wiring(
    id="oven_reader", shape="registers, tenths", rate_hz=2.0, channels=("oven",), baud=19200
)
"""An optional reader of Modbus registers."""
PROBE_CHANNELS = ("fat", "water", "emulsion", "bath", "core", "room", "oven")
SCALE_CHANNELS = ("bowl_scale", "bath_scale", "bench_scale")
PROBE_OFFSET_K = {"fat": 0.2, "water": -0.1, "emulsion": 0.1, "bath": 0.0, "core": 0.3}
"""How much each probe shows too much [K]; the bench file corrects it."""


@dataclass(slots=True, kw_only=True)
class Trace:
    """One channel as its instrument reads it.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
        Sample times [s].
    value : ndarray, shape (n,)
        Rounded as shown [degC or g]; nan where there is none.
    flags : ndarray of uint16, shape (n,)
        Bits of ``logger.model.reading.Flag``.
    units : list of (from_s, to_s, unit)
        Spans in which a scale shows another unit than grams.
    """

    channel: str
    t_s: Array
    value: Array
    flags: NDArray[np.uint16]
    units: list[tuple[float, float, str]] = field(default_factory=list)

    def span(self, from_s: float, to_s: float) -> slice:
        """Return the samples of a span of time, from `from_s` to before `to_s` [s]."""
        first, last = np.searchsorted(self.t_s, (from_s, to_s))
        return slice(int(first), int(last))

    def kept(self, keep: NDArray[np.bool_]) -> "Trace":
        """Return the trace with only the samples where `keep` is true."""
        return Trace(
            channel=self.channel,
            t_s=self.t_s[keep],
            value=self.value[keep],
            flags=self.flags[keep],
            units=self.units,
        )


def sample_times(wiring: Wiring, end_s: float, rate_hz: float | None = None) -> Array:
    """Return the sample times of an instrument from its first to the end of the run [s].

    Parameters
    ----------
    wiring : Wiring
        The instrument.
    end_s : float
        End of the run [s].
    rate_hz : float or None
        Highest rate [Hz]; None is the instrument's own.
    """
    rate = wiring.rate_hz if rate_hz is None else min(rate_hz, wiring.rate_hz)
    # Instruments do not start at the same instant.
    phase_s = (sum(wiring.id.encode()) % 17) / 17.0 / rate
    return phase_s + np.arange(max(1, int((end_s - phase_s) * rate) + 1)) / rate
