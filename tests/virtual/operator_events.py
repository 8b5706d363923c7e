"""What the cook of a virtual batch says, as events of a run, without ports between."""

from logger.model.event import Event
from logger.virtual.readings.simulate import SimulatedRun


def operator_events(run: SimulatedRun) -> list[Event]:
    """Return them with the run's start before them."""
    started = [
        Event(t_ns=0, kind="run_start", source="operator", text="virtual batch"),
        Event(t_ns=0, kind="next", source="operator"),
    ]
    return started + [
        Event(
            t_ns=round(t_s * 1e9),
            kind=kind,
            source="operator",
            stage=data.get("stage"),
            text=str(data.get("text", "")),
            data={k: v for k, v in data.items() if k != "text"},
        )
        for t_s, kind, data in run.events
    ]
