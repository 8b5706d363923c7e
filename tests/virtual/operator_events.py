"""What the cook of a virtual batch says, as events of a run, without ports between."""

from logger.model.event import Event
from logger.model.reading import Reading
from logger.virtual.readings.simulate import SimulatedRun
from logger.watch.engine.merge import order


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


def stream(
    run: SimulatedRun, u: float = 0.1, until_s: float = float("inf")
) -> list[Reading | Event]:
    """Return readings and events in order, those after a time [s] left out."""
    items = sorted([*operator_events(run), *run.readings(u)], key=order)
    return [i for i in items if i.t_ns <= until_s * 1e9]


def begin_s(run: SimulatedRun, stage: str) -> float:
    """Return when the cook begins a stage [s]."""
    return next(t_s for t_s, _, data in run.events if data.get("stage") == stage)
