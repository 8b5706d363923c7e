"""What a port thread hands on."""

from collections.abc import Callable
from typing import Literal, NamedTuple

from logger.model.event import Event


class PortBatch(NamedTuple):
    """One chunk of bytes as it came, or one event of a port."""

    instrument: str
    """Instrument id; of a foot switch, its port."""
    t_ns: int
    """Arrival on the run's axis [ns]."""
    kind: Literal["open", "data", "close", "event"]
    data: bytes = b""
    event: Event | None = None


Sink = Callable[[PortBatch], None]
"""Takes a batch and returns at once; called from the port's thread."""


def port_event(name: str, t_ns: int, kind: str, text: str) -> PortBatch:
    """Return an event of a port as a batch.

    Parameters
    ----------
    name : str
        Instrument id, or the port of a foot switch.
    t_ns : int
        On the run's axis [ns].
    kind : str
        One of the kinds that the bench says.
    text : str
        In plain words.
    """
    event = Event(t_ns=t_ns, kind=kind, source="bench", port=name, text=text)
    return PortBatch(name, t_ns, "event", event=event)
